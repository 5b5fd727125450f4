"""Numbers of the other unit in a plan are told by its own command, and by that alone."""

import pytest
from cli_folder import folder_of, run

IN_MM = (
    'unit = "in"\ngive = 0.05\nfinest = "1/32"\nworkmanship = "0.5"\nworkmanship_width = "0.1"\n'
    "fits = { slip = [0.05, 0.2, 0.5], loose = [1, 2, 3] }\n"
    "[tool.caliper]\ngood_to = 0.1\n[tool.rope]\ngood_to = 0.5\n[part.a]\nx = 'l 60 r'\n"
)
IN_INCHES = (
    'unit = "mm"\ngive = 1\nworkmanship = "1/32"\nworkmanship_width = "0.004"\nfits = { slip = [0.002, 0.008, 0.02] }\n'
    "[tool.caliper]\ngood_to = 0.004\n[part.a]\nx = 'l 60 r'\n"
)


def told(tmp_path, plan, *command):
    result = run(*(command or ("plan",)), at=folder_of(tmp_path / "b", plan=plan))
    return result.exit_code, [line.split(": ", 1)[1] for line in result.stderr.splitlines() if line.startswith("warning")]


def test_millimetres_in_a_plan_in_inches(tmp_path):
    # By hand: 0.5 mm is 0.0197 in, 0.1 mm 0.0039 in; 0.5 / 0.0197 = 0.1 / 0.0039 = 25.4; slip has 0.020 in: 25.
    status, said = told(tmp_path, IN_MM)
    assert status == 1
    assert said == [
        "plan.toml:4: workmanship: workmanship ± 1/2 in, 25 times as much as the usual 0.0197 in",
        "plan.toml:5: workmanship_width: workmanship of a width ± 0.1 in, 25 times as much as the usual 0.0039 in",
        "plan.toml:8: tool.caliper.good_to: the caliper is good to ± 0.1 in, 25 times as much as the usual 0.0039 in",
        "plan.toml:6: fits.slip: the fit slip leaves up to 1/2 in, 25 times as much as the usual 0.02 in",
    ]
    assert told(tmp_path, IN_MM, "sizes")[1] == []


def test_inches_in_a_plan_in_millimetres_where_it_is_more_than_one_number(tmp_path):
    status, said = told(tmp_path, IN_INCHES)
    assert (status, len(said)) == (1, 4)
    assert "workmanship ± 0.03125 mm, 16 times as little as the usual 0.5 mm" in said[0]
    assert told(tmp_path, 'unit = "mm"\nworkmanship = 0.02\n[part.a]\nx = "l 60 r"\n') == (0, [])


@pytest.mark.parametrize("workmanship", ["1/32", "1/16", "0.005", "0.5 mm"])
def test_what_makers_do_is_not_odd(tmp_path, workmanship):
    assert told(tmp_path, f'unit = "in"\nworkmanship = "{workmanship}"\n[part.a]\nx = "l 60 r"\n') == (0, [])


MISSPELT = (
    'unit = "mm"\ngive = 1\nfits = { slipp = [0, 0.3, 0.9], close = [0, 0.1, 0.2] }\n[tool.calliper]\ngood_to = 0.05\n'
    "[tool.old-tape]\ngood_to = 1\n[part.a]\nx = 'l 60 r'\n[part.b]\nx = 'l 9 s 60 t 9 r'\n"
    "[joint.j]\nmeet = 'a.l/r in b.s/t, slip'\n"
)


def test_a_fit_misspelt_does_not_stay_without_use_in_silence(tmp_path):
    status, said = told(tmp_path, MISSPELT, "sizes")
    assert status == 1
    assert said == ["plan.toml:3: fits.slipp: no sentence names the fit slipp; those that say slip have the built-in one"]
    for right in ("slipp", "slip"):  # a fit of its own, used; the built-in one changed
        plan = MISSPELT.replace("slipp", right).replace("t, slip'", f"t, {right}'")
        assert told(tmp_path, plan, "sizes")[1] == []


def test_a_tool_nearly_called_like_one_built_in_is_noticed(tmp_path):
    said = run("plan", at=folder_of(tmp_path / "b", plan=MISSPELT)).stderr
    assert "note: plan.toml:4: tool.calliper: calliper is a tool of its own, beside the built-in caliper\n" in said
    assert "old-tape" not in said
