"""What a reviewer must know: how to fill, where components meet, what is dangerous."""

from __future__ import annotations

from claimlens.classify.taxonomy import Taxonomy

__all__ = ["CAUTIONS", "STEPS", "seams"]

STEPS: tuple[str, ...] = (
    "Work on the sheet 'review', from the top: dangerous claims come first.",
    "Read the text, then choose component and failure_mode from the lists in the "
    "cells. Write reviewer and reviewed_on in each row that you answer; or leave "
    "both empty throughout and let whoever takes the workbook back name them.",
    "Name the cause where the text tells it, else the part that shows the symptom. "
    "The part that was replaced tells more than the complaint; what an inspection "
    "found tells most. A kit or a courtesy part is no cause.",
    "A suggestion is only a suggestion. Look at the text before you agree with it.",
    "Rows with an empty component are passed over; they can be answered later.",
    "Save as a workbook (.xlsx). Do not save as CSV, merge cells, or change grey "
    "cells. Filtering and column widths are free to change.",
    "The texts may name people. Keep this workbook inside the company.",
)

CAUTIONS: tuple[str, ...] = (
    "A claim that tells of injury, fire, smoke, melting, a swelling battery, electric "
    "shock, loss of braking or steering, uncommanded motion or a break in a "
    "load-bearing part: tell whoever answers for product safety at once, before "
    "you go on here.",
    "Whether it must be reported to an authority, to whom and by when, is set by "
    "local law; ask someone who knows it. This workbook makes no safety or legal "
    "decision.",
    "Nobody should ride or charge a vehicle under such suspicion. Before any work on "
    "it, disconnect and discharge it; battery, electrical, brake, steering and "
    "structural work belongs to a qualified technician.",
    "A damaged lithium battery needs its own packing and carrier rules; do not have "
    "it sent in by ordinary post.",
)

# Where two components meet: the components of a rule, and the rule.
_SEAMS: tuple[tuple[tuple[str, ...], str], ...] = (
    (
        ("connector", "wiring harness"),
        "Plugs, pins, couplers and the charge socket are connector; wires, loom, "
        "splices and ring terminals are wiring harness.",
    ),
    (
        ("wiring harness",),
        "A sensor's own moulded lead belongs to the sensor, not to the wiring "
        "harness; so do the leads of throttle and charger to them.",
    ),
    (("switchgear",), "Horn and buttons at the handlebar are switchgear."),
    (
        ("lock/key",),
        "Ignition lock, battery lock and ring lock are lock/key.",
    ),
    (
        ("drivetrain",),
        "Belt, chain, gears, shifter, cranks and differential are drivetrain.",
    ),
    (
        ("pedal-assist sensor", "speed sensor"),
        "The sensor at crank or torque arm is pedal-assist sensor; the one at the "
        "wheel is speed sensor.",
    ),
    (("frame",), "A folding hinge is frame."),
    (("brake pad/rotor",), "The shoes of a drum brake are brake pad/rotor."),
    (
        ("wiring harness", "display"),
        "The cause wins: a display dead because the harness is chafed is wiring "
        "harness.",
    ),
    (
        (),
        "A returned part that tested healthy keeps its component, with the mode no "
        "fault found.",
    ),
    (
        ("none/no fault found",),
        "none/no fault found is for a claim in which no part is to blame at all.",
    ),
)


def seams(taxonomy: Taxonomy) -> list[str]:
    """Return the rules for where components meet.

    Parameters
    ----------
    taxonomy : Taxonomy
        In force; rules about components that it lacks are left out.

    Returns
    -------
    list of str
        Short sentences.
    """
    known = taxonomy.components.keys()
    return [rule for named, rule in _SEAMS if set(named) <= known]
