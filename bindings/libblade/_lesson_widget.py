"""The lesson's drawing in a notebook, with sliders; where there is no widget, a still picture that says the same."""

from __future__ import annotations

import importlib
import io
from typing import Any

from libblade._case import Case, require_case
from libblade._errors import InvalidInput
from libblade._lesson import PAGE, lesson_state
from libblade._plots import _pyplot
from libblade._plots_nip import State, describe_nip, plot_nip

STEP = 0.05
_PARTS = ("drawing.js", "widget.js")
_ACTIONS = ("move", "bed", "harder", "softer")


class Lesson:
    """One blade at one nip: moved, run in and pressed, each change solved by ``lesson_state``."""

    def __init__(self, case: Case) -> None:
        require_case(case)
        self.case = case
        self.step = 0.0
        """Of load (floating) or holder advance (fixed) since the blade was last run in or moved [-]."""
        self.state = lesson_state(case)
        """As the answer of ``lesson_state``."""
        self._run_in: dict[str, Any] | None = None
        self._approved: float | None = None
        self._settled(self.state)

    def request(self) -> dict[str, Any]:
        """The setting as the sliders have it: set angle [deg], line load [N/m], roll speed [m/min]."""
        case = self.state["case"] or self.case.to_dict()
        load = self.state["point"]["line_load"] if self.state["point"] else case["setting"].get("line_load") or 100.0
        return {
            "set_angle_deg": round(float(self.case["setting.set_angle"]) * 57.29577951308232, 6),
            "line_load": round(float(load), 3),
            "speed_m_per_min": round(60.0 * float(self.case["setting.surface_speed"]), 6),
            "action": "move",
            "number": 0,
        }

    def answer(self, request: dict[str, Any]) -> State:
        """Solves what was asked: "move" to the sliders' setting, "bed" (run in there), "harder" or "softer" by 5 %.

        A setting that is refused leaves everything as it was; its state has status "bad_input" and says why.
        """
        try:
            action = request["action"]
            if action not in _ACTIONS:
                raise InvalidInput([("action", repr(action), f"must be one of {', '.join(_ACTIONS)}")])
            case = self.case.replace({
                "setting.set_angle_deg": request["set_angle_deg"], "setting.line_load": request["line_load"],
                "setting.surface_speed": float(request["speed_m_per_min"]) / 60.0,
            })  # fmt: skip
            step = {"harder": self.step + STEP, "softer": self.step - STEP}.get(action, 0.0)
            run_in: Any = True if action == "bed" else self._run_in
            approved = None if action == "bed" else self._approved
            state = lesson_state(case, run_in=run_in, step=step, approved_ink=approved)
        except InvalidInput as error:
            return {**_NOTHING, "problems": [{"field": p.path, "value": p.value, "allowed": p.message} for p in error.problems],
                    "message": str(error)}  # fmt: skip
        except (KeyError, TypeError, ValueError) as error:
            return {**_NOTHING, "message": f"not a setting: {error!r}"}
        self.case, self.step, self.state = case, step, state
        if action == "bed":
            self._settled(state)
        return state

    def sentence(self, state: State) -> str:
        """What happened, from the numbers of a state of ``answer``."""
        if state["point"] is None:
            return f"No answer ({state['status'].replace('_', ' ')}): {state['message']}"
        notes = " ".join(flag["message"] for flag in state["validity"])
        pressed = f" Pressed by {self.step:+.0%} since." if self.step else ""
        return f"{describe_nip(state)}{pressed}" + (f" Note: {notes}" if notes else "")

    def _settled(self, state: State) -> None:
        """From here on the facet is this one, and the print this one's."""
        if state["point"] is None or not state["facet"]["length"]:
            return
        facet = state["facet"]
        self._run_in = {"bedded_angle_rad": facet["bedded_angle"], "facet_length": facet["length"]}
        self._approved = state["ink"]["carried"]


_NOTHING: State = {"status": "bad_input", "message": "", "problems": [], "point": None, "section": None, "validity": []}


class StillLesson:
    """The drawing of a case where there is no widget."""

    def __init__(self, lesson: Lesson, why: str) -> None:
        self.lesson = lesson
        self.why = why
        """Why it does not move."""

    def __repr__(self) -> str:
        return f"{self.lesson.sentence(self.lesson.state)}\n{self.why}"

    def _repr_png_(self) -> bytes:
        return _png(self.lesson.state)


def _png(state: State) -> bytes:
    figure = plot_nip(state)[0].figure
    try:
        with io.BytesIO() as file:
            figure.savefig(file, format="png", dpi=110)
            return file.getvalue()
    finally:
        _pyplot().close(figure)


def lesson_widget(case: Case) -> Any:
    """A blade at the nip to move, run in and press with sliders and buttons, drawn as in the lesson's page; Python solves.

    Moving and pressing leave the facet as it was run in; "let it bed here" runs it in at the setting shown. Traits:
    ``request`` (set_angle_deg [deg], line_load [N/m], speed_m_per_min [m/min], ``action`` and a counting ``number``), ``answer``
    (a state of ``lesson_state``, SI) and ``sentence``. Without anywidget (pip install "libblade[notebooks]") a ``StillLesson``
    with the drawing as PNG; a stored or headless notebook shows that too.

    Raises InvalidInput on anything but a Case.
    """
    lesson = Lesson(case)
    try:
        kind = _kind()
    except ImportError:
        return StillLesson(lesson, 'Sliders need anywidget: pip install "libblade[notebooks]"')
    return kind(lesson)


def _kind() -> Any:
    """The widget's class, made where anywidget is there."""
    anywidget, traitlets = importlib.import_module("anywidget"), importlib.import_module("traitlets")

    def start(self: Any, lesson: Lesson) -> None:
        self.lesson = lesson
        anywidget.AnyWidget.__init__(
            self, request=lesson.request(), answer=lesson.state, sentence=lesson.sentence(lesson.state)
        )
        self.observe(lambda change: solve(self, change["new"]), "request")

    def solve(self: Any, request: dict[str, Any]) -> None:
        state = self.lesson.answer(request)
        with self.hold_sync():
            self.answer, self.sentence = dict(state), self.lesson.sentence(state)

    def bundle(self: Any, **keywords: Any) -> Any:
        shown = anywidget.AnyWidget._repr_mimebundle_(self, **keywords)
        data, about = shown if isinstance(shown, tuple) else (shown or {}, {})
        still = StillLesson(self.lesson, "Sliders need a running notebook.")
        return {**data, "text/plain": repr(still), "image/png": still._repr_png_()}, about

    text = "\n".join((PAGE / name).read_text(encoding="utf-8") for name in _PARTS)
    members = {
        "__doc__": lesson_widget.__doc__,
        "__init__": start,
        "_repr_mimebundle_": bundle,
        "_esm": text,
        "request": traitlets.Dict().tag(sync=True),
        "answer": traitlets.Dict().tag(sync=True),
        "sentence": traitlets.Unicode().tag(sync=True),
    }
    return type("LessonWidget", (anywidget.AnyWidget,), members)
