"""The form that chooses what the picture of a part of a network is around."""

from collections.abc import Mapping, Sequence

from wtforms import Form, SelectChoice, SelectField

from triage.network.values import FaultNetwork
from webform.forms import Chosen


class AroundForm(Form):
    """A component or a sign of one network; it stands in the address."""

    node = SelectField(
        "Component or sign",
        validate_choice=False,
        validators=[Chosen(thing="a component or a sign")],
    )

    @classmethod
    def of(cls, network: FaultNetwork, sent: Mapping[str, str] | None = None) -> "AroundForm":
        """Form with what there is to choose, filled with what was chosen."""
        form = cls(sent)
        components = sorted((one.title, name) for name, one in network.components.items())
        signs = sorted((one.title, name) for name, one in network.signs.items())
        form.node.choices = [
            SelectChoice("", "Choose a component or a sign"),
            *(SelectChoice(name, title, optgroup="Components") for title, name in components),
            *(SelectChoice(name, title, optgroup="Signs") for title, name in signs),
        ]
        return form

    def errors_by_field(self) -> Sequence[tuple[str, str]]:
        """Id of the field if it is wrong, and the sentence that says what to do."""
        return [(field.id, error) for field in self for error in field.errors]
