"""Errors of the library: one root, one class per thing that can go wrong.

TriageError
├── NetworkError
│   ├── NetworkFileError         a file under ``networks/`` has problems; all of them are listed
│   ├── UnknownNetworkError      no fault network of that name
│   ├── UnknownNodeError         no component, failure mode or sign of that id
│   └── InfeasiblePriorError     no base odds reproduce the stated shares
├── SettingsFileError            a file of shop settings has problems; all of them are listed
├── StaleSettingsError           the settings were saved in another window since the page was shown
├── EvidenceError
│   ├── UnknownObservationError  a finding names an observation the network does not have
│   ├── UnknownAnswerError       a finding carries an answer the observation does not have
│   ├── UnknownModeError         a failure mode the network does not have
│   ├── UnknownRepairError       a repair the network does not have
│   ├── ReadingError             a meter reading that is not a number the observation can take
│   └── ImpossibleEvidenceError  the evidence has probability 0
├── CallError
│   ├── UnknownCallError         no call of that number
│   ├── StaleCallError           the call changed since the page was shown
│   ├── SafetyFirstError         a ranking was asked for before the safety questions were answered
│   └── OutOfScopeError          a ranking was asked for of a machine the shop does not repair
├── CalculationError
│   ├── UnknownCalculatorError   no calculator of that name
│   ├── UnknownInputError        a calculator does not ask for that
│   └── InputValueError          an entry that the calculator cannot work with
├── LearningError
│   ├── ClosedJobError           a closed job that contradicts itself
│   ├── LearningSettingsError    a setting of learning out of its range
│   └── UnknownChangeError       a proposed version has no change of that key
└── StoreError
    └── NewerDatabaseError       a newer program wrote the database

Each class builds its own message, so that one class has one wording.
"""

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
from triage.errors.evidence import (
    EvidenceError,
    ImpossibleEvidenceError,
    ReadingError,
    UnknownAnswerError,
    UnknownModeError,
    UnknownObservationError,
    UnknownRepairError,
)
from triage.errors.learning import (
    ClosedJobError,
    LearningError,
    LearningSettingsError,
    UnknownChangeError,
)
from triage.errors.network import (
    InfeasiblePriorError,
    NetworkError,
    NetworkFileError,
    UnknownNetworkError,
    UnknownNodeError,
)
from triage.errors.root import TriageError, nearest
from triage.errors.settings import (
    SettingsFileError,
)
from triage.errors.shop import StaleSettingsError
from triage.errors.store import NewerDatabaseError, StoreError

__all__ = [
    "CalculationError",
    "CallError",
    "ClosedJobError",
    "EvidenceError",
    "ImpossibleEvidenceError",
    "InfeasiblePriorError",
    "InputValueError",
    "LearningError",
    "LearningSettingsError",
    "NetworkError",
    "NetworkFileError",
    "NewerDatabaseError",
    "OutOfScopeError",
    "ReadingError",
    "SafetyFirstError",
    "SettingsFileError",
    "StaleCallError",
    "StaleSettingsError",
    "StoreError",
    "TriageError",
    "UnknownAnswerError",
    "UnknownCalculatorError",
    "UnknownCallError",
    "UnknownChangeError",
    "UnknownInputError",
    "UnknownModeError",
    "UnknownNetworkError",
    "UnknownNodeError",
    "UnknownObservationError",
    "UnknownRepairError",
    "nearest",
]
