"""Tracing in Python: people's words in, causes with evidence and cautions out, the command, refusals."""

import copy
import json
import math
import pickle

import pytest
from libblade._cli import main

import libblade as lb

NAME = "folding_carton_water"
QUESTIONS = (
    "tone", "direction", "width", "repeat", "moves_with_blade", "goes_when_wiped", "survives_blade_change", "survives_cleaning",
    "patchy", "began",
)  # fmt: skip
TEN = {"tone": "darker", "direction": "along the web", "width": "0.05 mm", "moves_with_blade": True}


@pytest.fixture(scope="module")
def case():
    return lb.example_case(NAME)


@pytest.fixture(scope="module")
def models(case):
    return lb.CauseModels(case, samples=200)


@pytest.fixture(scope="module")
def nick(models):
    return lb.trace(lb.Observation(**TEN), models)


def test_who_knows_nothing_gets_the_priors_back(models):
    found = lb.trace(lb.Observation(), models, none_share=0.2)
    assert found.none_of_these == pytest.approx(0.2, rel=1e-12)
    assert sum(one.probability for one in found.ranked) == pytest.approx(1.0, rel=1e-12)
    assert {one.cause for one in found.causes} == set(lb.line_causes())
    assert all(one.probability == pytest.approx(one.prior, rel=1e-12) and not one.evidence for one in found.ranked)
    assert str(found).startswith("seen: nothing known")
    assert tuple(sorted(check.question for check in found.checks)) == tuple(sorted(QUESTIONS))


def test_priors_are_taken_and_shared(models):
    some = lb.trace(lb.Observation(), models, priors={"riding": 0.5, "run_out": "10 %"}, none_share=0.0001)
    assert some.probability("riding") == pytest.approx(0.5 * 0.9999, rel=1e-9)
    assert some.probability("run_out") == pytest.approx(0.1 * 0.9999, rel=1e-9)
    # The usual shares of these two, 0.14 and 0.11, keep their proportion.
    assert some.probability("blade_nick") / some.probability("scored_roll") == pytest.approx(0.14 / 0.11, rel=1e-9)
    every = lb.trace(lb.Observation(), models, priors=dict.fromkeys(lb.line_causes(), 1 / 12))
    assert every.probability("riding") == pytest.approx(0.9 / 12, rel=1e-9)


@pytest.mark.parametrize("cause", lb.line_causes())
def test_the_usual_line_of_a_cause_is_traced_to_it(cause, case, models):
    line = lb.lines(case, cause)[cause]
    found = lb.trace(lb.Observation.of(line), models)
    if (
        cause == "not_this_nip"
    ):  # it looks like anything: a light line that nothing at the nip changes is a worn band too
        assert cause in [one.cause for one in found.ranked[:2]]
    else:
        assert found.ranked[0].cause == cause
        assert found.ranked[0].probability > 0.5


def test_evidence_reads_as_it_counts(nick):
    first = nick.ranked[0]
    assert first.cause == "blade_nick"
    assert first.words == "nick in the blade's edge"
    assert any("the line moved with the blade's traverse" in words for words in first.evidence_for)
    ratios = [abs(one.log_ratio) for one in first.evidence]
    assert ratios == sorted(ratios, reverse=True)
    assert len(first.evidence) == 4
    score = next(one for one in nick.causes if one.cause == "scored_roll")
    (against,) = (one for one in score.evidence if one.question == "moves_with_blade")
    assert against.log_ratio < -1.0
    assert against.words.startswith("speaks against it: the line moved with the blade's traverse")
    assert against.words in score.evidence_against
    # The number in the sentence is the number.
    times = float(against.words.split("(")[1].split(" times")[0])
    assert times == pytest.approx(math.exp(-against.log_ratio), rel=0.06)


def test_doubt_weakens_an_answer(models):
    sure = lb.trace(lb.Observation(moves_with_blade="yes"), models)
    doubtful = lb.trace(lb.Observation(moves_with_blade="probably yes"), models)
    neither = lb.trace(lb.Observation(), models)
    assert sure.probability("blade_nick") > doubtful.probability("blade_nick") > neither.probability("blade_nick")
    # What is doubtful may be asked again, what is sure is done.
    assert "moves_with_blade" in [check.question for check in doubtful.checks]
    assert "moves_with_blade" not in [check.question for check in sure.checks]
    assert "probably, the line moved" in str(doubtful)


def test_the_next_check_says_why_and_warns(models):
    found = lb.trace(
        lb.Observation(tone="darker", direction="along the web", width="6 mm", moves_with_blade=True), models
    )
    check = found.next_check
    assert check.question == "goes_when_wiped"  # a particle in the edge or loose at it: nothing else tells them apart
    assert "stayed when the edge was wiped: particle embedded in the edge" in check.reason
    assert "went when the edge was wiped: loose particle" in check.reason
    for words in ("locked out", "Cut-resistant gloves", "razor-sharp", "Local codes and site rules come first"):
        assert words in check.caution
        assert words in str(check)
    assert [c.information for c in found.checks] == sorted((c.information for c in found.checks), reverse=True)
    costly = lb.trace(found.observation, models, effort={"goes_when_wiped": 1000})
    assert costly.checks[-1].question == "goes_when_wiped"
    assert costly.checks[-1].per_effort == pytest.approx(check.information / 1000, rel=1e-12)
    cleaning = next(c for c in found.checks if c.question == "survives_cleaning")
    assert "safety sheet" in cleaning.caution


def test_all_answered_leaves_no_check(case, models):
    line = lb.lines(case, "blade_nick")["blade_nick"]
    found = lb.trace(lb.Observation.of(line), models)
    assert found.next_check is None
    assert "next:" not in str(found)


def test_what_this_nip_cannot_show_is_out(case):
    follows = case.replace({"setting.holding": "floating"})
    found = lb.trace(lb.Observation(direction="across the web"), lb.CauseModels(follows, samples=40))
    assert "run_out" in found.ruled_out
    assert found.probability("run_out") == 0.0
    assert "cannot show at this nip: run-out of the roll" in str(found)


def test_nothing_that_fits_is_none_of_these(models):
    # A wide dark band across the web that moves with the traverse, goes with a wipe and comes back with a new blade.
    odd = lb.Observation(
        tone="darker", direction="across the web", repeat="9 m", moves_with_blade=True, goes_when_wiped=True,
        survives_blade_change=True, patchy=True,
    )  # fmt: skip
    found = lb.trace(odd, models)
    assert found.ranked[0].cause == "none_of_these"
    assert found.none_of_these > 0.5
    assert found.none.what_to_do in str(found)


def test_every_way_of_saying_it():
    told = lb.Observation(
        tone="Darker", direction="probably across the web", width="none", repeat="continuous", moves_with_blade="no",
        goes_when_wiped="probably yes", survives_blade_change="unknown", survives_cleaning=True, began="at a blade change",
    )  # fmt: skip
    assert told == lb.Observation(
        tone="darker", direction="probably across_web", width=0.0, repeat="irregular", moves_with_blade=False,
        goes_when_wiped="Probably Yes", survives_cleaning="true", began="at_blade_change",
    )  # fmt: skip
    assert told.answered == tuple(name for name in QUESTIONS if name not in ("survives_blade_change", "patchy"))
    assert str(told) == (
        "the line is darker; probably, it lies across the web; it has no width of its own; it has no repeat along the web; "
        "the line stayed where it was when the blade traversed; probably, the line went when the edge was wiped; "
        "the line outlasted a cleaning of the roll; it began at a blade change"
    )
    assert lb.Observation(width="0.4 mm").width == pytest.approx(0.4e-3, rel=1e-12, abs=0.0)
    assert lb.Observation(width=0.4e-3) == lb.Observation(width="0.4 mm")
    assert lb.Observation().sentence("tone") == ""


def test_an_observation_of_a_computed_line(case):
    haze = lb.lines(case, "riding")["riding"]
    seen = lb.Observation.of(haze)
    assert (seen.direction, seen.width, seen.repeat) == ("whole_width", 0.0, 0.0)
    assert lb.Observation.of(haze.signature, "tone", "began").answered == ("tone", "began")
    with pytest.raises(lb.InvalidInput, match="question"):
        lb.Observation.of(haze, "colour")
    with pytest.raises(lb.InvalidInput, match="line"):
        lb.Observation.of("haze")


@pytest.mark.parametrize(
    ("bad", "name", "words"),
    [
        ({"tone": "green"}, "tone", '"darker", "lighter"'),
        ({"direction": "up"}, "direction", '"along web", "across web", "whole width", "spots"'),
        ({"began": 3}, "began", '"after standstill"'),
        ({"patchy": "maybe"}, "patchy", '"probably yes"'),
        ({"goes_when_wiped": 1}, "goes_when_wiped", "must be True"),
        ({"width": "3 kg"}, "width", "kg"),
        ({"width": -1e-3}, "width", 'from 1e-06 to 10 m, or "none"'),
        ({"width": math.nan}, "width", "from 1e-06"),
        ({"repeat": "1 km"}, "repeat", 'from 0.0001 to 20 m, or "continuous"'),
        ({"repeat": 0.4, "repeat_uncertainty": 0.0}, "repeat_uncertainty", "from 0.001 to 2"),
    ],
)
def test_bad_words_are_refused_with_the_good_ones(bad, name, words):
    with pytest.raises(lb.InvalidInput) as error:
        lb.Observation(**bad)
    (problem,) = error.value.problems
    assert problem.path == name
    assert words in problem.message


def test_all_that_is_wrong_is_told_at_once():
    with pytest.raises(lb.InvalidInput) as error:
        lb.Observation(tone="green", width="3 kg", began="once")
    assert [problem.path for problem in error.value.problems] == ["tone", "width", "began"]


@pytest.mark.parametrize(
    ("options", "name"),
    [
        ({"priors": {"nick": 0.1}}, "priors.nick"),
        ({"priors": {"riding": 1.2}}, "priors.riding"),
        ({"priors": {"riding": 0.0}}, "priors.riding"),
        ({"priors": dict.fromkeys(lb.line_causes(), 0.1)}, "priors"),
        ({"none_share": 0.0}, "none_share"),
        ({"none_share": 1.0}, "none_share"),
        ({"effort": {"colour": 1.0}}, "effort.colour"),
        ({"effort": {"tone": 0.0}}, "effort.tone"),
    ],
)
def test_bad_priors_and_efforts_are_refused(options, name, models):
    with pytest.raises(lb.InvalidInput) as error:
        lb.trace(lb.Observation(), models, **options)
    assert name in [problem.path for problem in error.value.problems]


def test_bad_arguments_are_refused(case, models, nick):
    with pytest.raises(lb.InvalidInput, match="observation"):
        lb.trace("a dark line", models)
    with pytest.raises(lb.InvalidInput, match="case"):
        lb.trace(lb.Observation(), NAME)
    with pytest.raises(lb.InvalidInput, match=r"doubt\.sure"):
        lb.CauseModels(case, sure=1.0, samples=20)
    with pytest.raises(lb.InvalidInput, match="samples"):
        lb.CauseModels(case, samples=2)
    with pytest.raises(lb.InvalidInput, match="seed"):
        lb.CauseModels(case, seed=-1)
    with pytest.raises(lb.InvalidInput, match="law"):
        lb.CauseModels(case, law="dark")
    with pytest.raises(lb.InvalidInput, match="cause"):
        nick.probability("nick")
    flat = {"blade.free_length": "30 mm", "blade.thickness": "0.1 mm", "setting.line_load": 300.0}
    with pytest.warns(lb.LibbladeWarning), pytest.raises(lb.NotSolved):
        lb.trace(lb.Observation(), case.replace(flat))


def test_a_case_does_as_well_as_its_models(case):
    seen = lb.Observation(**TEN)
    assert lb.trace(seen, case) == lb.trace(seen, lb.CauseModels(case))


def test_models_are_their_arguments(models):
    again = pickle.loads(pickle.dumps(models))
    assert again == models
    assert again.seen_share == models.seen_share
    assert copy.deepcopy(models) == models
    assert all(0.0 < share <= 1.0 for share in models.seen_share.values())
    seen = lb.Observation(**TEN)
    assert lb.trace(seen, again) == lb.trace(seen, models)


def test_care_comes_with_its_cautions(case, models):
    facts = lb.roll_care()
    assert {"pH", "lifting", "storage", "cleaning", "brushes"} <= {fact.topic for fact in facts}
    assert all(fact.source == "common practice, no published source" for fact in facts)
    assert all("Local codes and site rules come first" in fact.caution for fact in facts)
    assert "4 to 10" in lb.roll_care("pH")[0].advice
    with pytest.raises(lb.InvalidInput, match="topic"):
        lb.roll_care("paint")
    plugged = lb.trace(lb.Observation.of(lb.lines(case, "plugged_cells")["plugged_cells"]), models).ranked[0]
    assert {fact.topic for fact in plugged.care} >= {"cleaning", "brushes", "pH"}
    marked = lb.trace(lb.Observation.of(lb.lines(case, "handling_mark")["handling_mark"]), models).ranked[0]
    assert {fact.topic for fact in marked.care} >= {"lifting", "storage"}


ARGUMENTS = ["--tone", "darker", "--direction", "along the web", "--width", "0.05 mm", "--moves-with-blade", "yes"]


def test_the_command_says_what_the_function_says(capsys, case):
    assert main(["trace", NAME, *ARGUMENTS]) == 0
    found = lb.trace(lb.Observation(**TEN), case)
    out = capsys.readouterr().out
    assert out == f"{found}\n"
    assert "caution: " in out
    assert "locked out" in out
    assert main(["trace", NAME, *ARGUMENTS, "--json", "--prior", "riding=0.3", "--effort", "goes-when-wiped=50"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["none_of_these"] + sum(one["probability"] for one in told["causes"]) == pytest.approx(1.0, rel=1e-9)
    assert next(one for one in told["causes"] if one["cause"] == "riding")["prior"] == pytest.approx(0.27, rel=1e-9)
    wiping = next(check for check in told["checks"] if check["question"] == "goes_when_wiped")
    assert wiping["per_effort"] == pytest.approx(wiping["information"] / 50, rel=1e-9)
    assert "locked out" in wiping["caution"]
    assert told["observation"] == {**TEN, "direction": "along_web", "width": pytest.approx(5e-5, rel=1e-9, abs=0.0)}


def test_the_command_reads_an_observation(tmp_path, capsys):
    path = tmp_path / "seen.json"
    path.write_text(json.dumps({**TEN, "tone": "lighter", "width_uncertainty": 0.3}), encoding="utf-8")
    assert main(["trace", NAME, "--observation", str(path), "--tone", "darker", "--json"]) == 0  # options go before it
    told = json.loads(capsys.readouterr().out)
    assert told["observation"]["tone"] == "darker"
    assert told["observation"]["moves_with_blade"] is True
    assert told["causes"][0]["cause"] == "blade_nick"


@pytest.mark.parametrize(
    "arguments",
    [
        ["--tone", "green"],
        ["--width", "5 kg"],
        ["--prior", "nick=0.5"],
        ["--prior", "riding"],
        ["--none-share", "2"],
        ["--observation", "nowhere.json"],
        ["--observation", "list.json"],
        ["--observation", "unknown.json"],
        ["--observation", "broken.json"],
    ],
)
def test_bad_arguments_of_the_command_are_status_2(arguments, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "list.json").write_text("[]")
    (tmp_path / "unknown.json").write_text('{"colour": "red"}')
    (tmp_path / "broken.json").write_text("{")
    assert main(["trace", NAME, *arguments]) == 2
    out, err = capsys.readouterr()
    assert err.startswith("error: ")
    assert not out


def test_a_nip_that_does_not_solve_is_status_1(capsys):
    flat = ["--set", "blade.free_length=30 mm", "--set", "blade.thickness=0.1 mm", "--set", "setting.line_load=300"]
    assert main(["trace", NAME, *flat]) == 1
    assert "lying_flat" in capsys.readouterr().err
