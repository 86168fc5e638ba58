"""Errors of the library: one root, one class per thing that can go wrong.

TriageError
├── NetworkError
│   ├── NetworkFileError         a file under ``networks/`` has problems; all of them are listed
│   ├── UnknownNetworkError      no fault network of that name
│   ├── UnknownNodeError         no component, failure mode or sign of that id
│   ├── UnknownVersionError      no version of that number is kept
│   ├── VersionStateError        a version was decided about already
│   ├── RenamesFileError         the table of renamed ids has problems; all of them are listed
│   └── InfeasiblePriorError     no base odds reproduce the stated shares
├── SettingsFileError            a file of shop settings has problems; all of them are listed
├── PlateNoteError               an entry of the owner's list by plate that says nothing
├── StaleSettingsError           the settings were saved in another window since the page was shown
├── EvidenceError
│   ├── UnknownObservationError  a finding names an observation the network does not have
│   ├── UnknownAnswerError       a finding carries an answer the observation does not have
│   ├── UnknownModeError         a failure mode the network does not have
│   ├── UnknownRepairError       a repair the network does not have
│   ├── ReadingError             a meter reading that is not a number the observation can take
│   │   └── ReadingOutOfSpanError    a number, but none that can be read there
│   └── ImpossibleEvidenceError  the evidence has probability 0
├── CallError
│   ├── UnknownCallError         no call of that number
│   ├── StaleCallError           the call changed since the page was shown
│   ├── SafetyFirstError         a ranking was asked for before the safety questions were answered
│   └── OutOfScopeError          a ranking was asked for of a machine the shop does not repair
├── JobError
│   ├── UnusableEntryError       an entry sent from a visit that a job cannot take
│   ├── UnknownPartError         a part the machine does not have
│   ├── NotPossibleNowError      the job does not stand where the entry would make sense
│   ├── PhotoError               a file that is no photo which can be kept
│   ├── UnknownPhotoError        the job has no photo of that number
│   └── UnknownVanError          no van of that number
├── ClosingError
│   ├── NotClosedError           a closed job is asked for and the job is not closed
│   ├── AlreadyClosedError       somebody else has closed the job meanwhile
│   └── NotClosableError         a job is closed without what its outcome needs
├── CustomerError
│   ├── UnknownCustomerError     no customer of that number on record
│   ├── UnknownMachineError      the customer has no machine of that number
│   ├── StaleCustomerError       the customer changed since the page was shown
│   └── UnfinishedJobsError      a customer is to be erased whose calls have not ended
├── BookingError
│   ├── UnknownVisitError        no visit of that number
│   ├── UnknownFeedError         a calendar's address that is not in use
│   ├── OutsideHoursError        a visit outside opening hours that nobody confirmed
│   ├── SlotTakenError           the van has another visit at that time
│   ├── SlotTimeError            a time at which no visit can be booked
│   ├── VisitStateError          the visit is past what was asked for
│   └── VanNameTakenError        another van has that name
├── CalculationError
│   ├── UnknownCalculatorError   no calculator of that name
│   ├── UnknownInputError        a calculator does not ask for that
│   └── InputValueError          an entry that the calculator cannot work with
├── LearningError
│   ├── ClosedJobError           a closed job that contradicts itself
│   ├── LearningSettingsError    a setting of learning out of its range
│   ├── UnknownChangeError       a proposed version has no change of that key
│   ├── JobFileError             a file of closed jobs that cannot be read at all
│   ├── JobLinesError            lines of a file of closed jobs are wrong; all are listed
│   ├── UnknownJobFileError      no file of closed jobs of that number
│   ├── UnknownRunError          no work of that number
│   ├── NothingApprovedError     a version is approved without any of its rows
│   └── NoJobsError              there is no closed job to learn from
├── PeopleError
│   ├── UnknownPersonError       nobody has that login
│   ├── LoginTakenError          somebody has that login
│   ├── LoginRuleError           a login holds what a login may not hold
│   ├── NameRuleError            a person's name is empty or too long
│   ├── PasswordRuleError        a new password is easily guessed
│   ├── WrongPasswordError       login and password do not go together
│   ├── WrongPresentPasswordError  the present password is another one
│   ├── LastOwnerError           the shop would be left without an owner
│   └── UnknownTokenError        no token of that number
├── BackupError
│   ├── NothingToBackUpError     a folder lacks what a backup is made of
│   ├── NotABackupError          a folder is no backup
│   ├── OverwriteError           something is where a backup is to be put
│   └── DamagedBackupError       a database or its copy is not whole
└── StoreError
    ├── NewerDatabaseError       a newer program wrote the database
    └── StoreInUseError          a database is to be replaced that a program has open

Each class builds its own message, so that one class has one wording.
"""

from triage.errors.booking import (
    BookingError,
    OutsideHoursError,
    SlotTakenError,
    SlotTimeError,
    UnknownFeedError,
    UnknownVisitError,
    VanNameTakenError,
    VisitStateError,
)
from triage.errors.calculation import (
    CalculationError,
    InputValueError,
    UnknownCalculatorError,
    UnknownInputError,
)
from triage.errors.calls import (
    CallError,
    OutOfScopeError,
    SafetyFirstError,
    StaleCallError,
    UnknownCallError,
)
from triage.errors.closing import (
    AlreadyClosedError,
    ClosingError,
    NotClosableError,
    NotClosedError,
)
from triage.errors.customers import (
    CustomerError,
    StaleCustomerError,
    UnfinishedJobsError,
    UnknownCustomerError,
    UnknownMachineError,
)
from triage.errors.evidence import (
    EvidenceError,
    ImpossibleEvidenceError,
    ReadingError,
    ReadingOutOfSpanError,
    UnknownAnswerError,
    UnknownModeError,
    UnknownObservationError,
    UnknownRepairError,
)
from triage.errors.jobs import (
    JobError,
    NotPossibleNowError,
    PhotoError,
    UnknownPartError,
    UnknownPhotoError,
    UnknownVanError,
    UnusableEntryError,
)
from triage.errors.learning import (
    ClosedJobError,
    JobFileError,
    JobLinesError,
    LearningError,
    LearningSettingsError,
    NoJobsError,
    NothingApprovedError,
    UnknownChangeError,
    UnknownJobFileError,
    UnknownRunError,
)
from triage.errors.network import (
    InfeasiblePriorError,
    NetworkError,
    NetworkFileError,
    RenamesFileError,
    UnknownNetworkError,
    UnknownNodeError,
    UnknownVersionError,
    VersionStateError,
)
from triage.errors.people import (
    LastOwnerError,
    LoginRuleError,
    LoginTakenError,
    NameRuleError,
    PasswordRuleError,
    PeopleError,
    UnknownPersonError,
    UnknownTokenError,
    WrongPasswordError,
    WrongPresentPasswordError,
)
from triage.errors.root import TriageError, nearest
from triage.errors.settings import (
    SettingsFileError,
)
from triage.errors.shop import PlateNoteError, StaleSettingsError
from triage.errors.store import (
    BackupError,
    DamagedBackupError,
    NewerDatabaseError,
    NotABackupError,
    NothingToBackUpError,
    OverwriteError,
    StoreError,
    StoreInUseError,
)

__all__ = [
    "AlreadyClosedError",
    "BackupError",
    "BookingError",
    "CalculationError",
    "CallError",
    "ClosedJobError",
    "ClosingError",
    "CustomerError",
    "DamagedBackupError",
    "EvidenceError",
    "ImpossibleEvidenceError",
    "InfeasiblePriorError",
    "InputValueError",
    "JobError",
    "JobFileError",
    "JobLinesError",
    "LastOwnerError",
    "LearningError",
    "LearningSettingsError",
    "LoginRuleError",
    "LoginTakenError",
    "NameRuleError",
    "NetworkError",
    "NetworkFileError",
    "NewerDatabaseError",
    "NoJobsError",
    "NotABackupError",
    "NotClosableError",
    "NotClosedError",
    "NotPossibleNowError",
    "NothingApprovedError",
    "NothingToBackUpError",
    "OutOfScopeError",
    "OutsideHoursError",
    "OverwriteError",
    "PasswordRuleError",
    "PeopleError",
    "PhotoError",
    "PlateNoteError",
    "ReadingError",
    "ReadingOutOfSpanError",
    "RenamesFileError",
    "SafetyFirstError",
    "SettingsFileError",
    "SlotTakenError",
    "SlotTimeError",
    "StaleCallError",
    "StaleCustomerError",
    "StaleSettingsError",
    "StoreError",
    "StoreInUseError",
    "TriageError",
    "UnfinishedJobsError",
    "UnknownAnswerError",
    "UnknownCalculatorError",
    "UnknownCallError",
    "UnknownChangeError",
    "UnknownCustomerError",
    "UnknownFeedError",
    "UnknownInputError",
    "UnknownJobFileError",
    "UnknownMachineError",
    "UnknownModeError",
    "UnknownNetworkError",
    "UnknownNodeError",
    "UnknownObservationError",
    "UnknownPartError",
    "UnknownPersonError",
    "UnknownPhotoError",
    "UnknownRepairError",
    "UnknownRunError",
    "UnknownTokenError",
    "UnknownVanError",
    "UnknownVersionError",
    "UnknownVisitError",
    "UnusableEntryError",
    "VanNameTakenError",
    "VersionStateError",
    "VisitStateError",
    "WrongPasswordError",
    "WrongPresentPasswordError",
    "nearest",
]
