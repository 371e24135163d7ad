"""bench.toml: what is right is read, what is wrong is one line that names the key and the cure."""

from pathlib import Path

import pytest

from monitor.base.errors import BadSettings, WrongUse
from monitor.model.card import JobCard, Way
from monitor.model.fittings import Conductor, Fittings, Job, VoltsWindow
from monitor.model.leads import Leads
from monitor.model.run import LimitKind
from monitor.settings import Bench, default_store_path, effective_limits_in_words, load_bench

SAMPLE = Path(__file__).with_name("bench.toml").read_text(encoding="utf-8")
LEAST = '[supplies.bench-1]\naddress = "scpi:/dev/ttyUSB0"\nlimit_amps = 10\n'


def load(folder: Path, text: str, encoding: str = "utf-8") -> Bench:
    path = folder / "bench.toml"
    path.write_text(text, encoding=encoding)
    return load_bench(path)


def refusal(folder: Path, text: str) -> str:
    with pytest.raises(BadSettings) as refused:
        load(folder, text)
    message = str(refused.value)
    assert "\n" not in message
    assert str(folder / "bench.toml") in message
    return message.removeprefix(str(folder / "bench.toml"))


def test_the_sample_says_all_that_can_be_said(tmp_path: Path) -> None:
    bench = load(tmp_path, SAMPLE)
    one, two = bench.supplies["bench-1"], bench.supplies["bench-2"]
    assert (one.address, one.limit_amps) == ("scpi:/dev/ttyUSB0?baud=9600", 10.0)
    assert (one.at_limit, two.at_limit) == (LimitKind.TRIPS, LimitKind.HOLDS)
    assert (one.poll_s, one.timeout_s, one.description) == (0.2, 0.5, "scpi-1999")
    assert (one.bath, two.bath) == ("north tank", "swab pot")
    assert bench.baths["north tank"].litres == 9.0
    assert (bench.forecast.horizon_s, bench.no_data.after_s) == (120.0, 5.0)
    assert bench.store.file == tmp_path / "runs.db"


def test_the_least_settings_have_the_stated_defaults(tmp_path: Path) -> None:
    bench = load(tmp_path, LEAST + '[baths."swab pot"]\nlitres = 0.4\n')
    supply = bench.supplies["bench-1"]
    assert (supply.at_limit, supply.poll_s, supply.timeout_s) == (LimitKind.TRIPS, 0.2, 0.5)
    assert (supply.description, supply.bath, bench.store.file) == (None, None, None)
    assert (bench.forecast.horizon_s, bench.no_data.after_s) == (120.0, 5.0)
    # Common practice, no source: caustic strips conduct about 1.75 % more for each kelvin.
    assert bench.baths["swab pot"].per_kelvin == 0.0175


def test_files_are_meant_from_where_the_settings_lie(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "shop").mkdir()
    text = LEAST.replace("limit_amps", 'description = "own.toml"\nlimit_amps')
    (tmp_path / "shop" / "bench.toml").write_text(text + '[store]\nfile = "a.db"\n')
    monkeypatch.chdir(tmp_path)
    bench = load_bench(Path("shop/bench.toml"))
    assert bench.store.file == tmp_path / "shop" / "a.db"
    assert bench.supplies["bench-1"].description == str(tmp_path / "shop" / "own.toml")


def test_a_mark_at_the_beginning_as_some_editors_write_it_is_no_mistake(tmp_path: Path) -> None:
    assert load(tmp_path, LEAST, "utf-8-sig").supplies


def test_settings_cannot_be_changed_afterwards(tmp_path: Path) -> None:
    bench = load(tmp_path, LEAST)
    with pytest.raises(ValueError, match="frozen"):
        bench.supplies["bench-1"].limit_amps = 99.0


def test_bad_settings_are_wrong_use() -> None:
    assert issubclass(BadSettings, WrongUse)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("limit_ampz = 10", "line 3: limit_ampz is not known in "
         "[supplies.bench-1]; did you mean limit_amps? (and 1 more)"),
        ("limit_amps = 10\nlitres = 3", "line 4: litres is not known in "
         "[supplies.bench-1]; it belongs in [baths.NAME]"),
        ("limit_amps = 10\nzzz = 3", "line 4: zzz is not known in "
         "[supplies.bench-1]; known there: address, limit_amps, at_limit, poll_s, timeout_s, "
         "description, amps, bath"),
        ("limit_amps = 10\nlimit_amps = 11", "line 4: supplies.bench-1.limit_amps occurs "
         "twice (first in line 3); delete one"),
        ("", "line 1: limit_amps is missing in [supplies.bench-1]"),
        ("limit_amps = 0", "line 3: supplies.bench-1.limit_amps must be over 0, not 0"),
        ("limit_amps = -10", "must be over 0, not -10"),
        ("limit_amps = inf", "must be a finite number, not inf"),
        ("limit_amps = nan", "must be a finite number, not nan"),
        ("limit_amps = '10'", "must be a number, not '10'"),
        ("limit_amps = true", "must be a number, not true"),
        # Milliamps, most likely.
        ("limit_amps = 10000", "must be at most 1000, not 10000"),
        ("limit_amps = 10\nat_limit = 'trip'", "line 4: supplies.bench-1.at_limit must be "
         "'trips' or 'holds', not 'trip'; did you mean 'trips'?"),
        ("limit_amps = 10\npoll_s = 0.01", "must be at least 0.05"),
        ("limit_amps = 10\npoll_s = 11", "must be at most 10"),
        ("limit_amps = 10\npoll_s = 8", "line 4: supplies.bench-1.poll_s: one poll can take 8.5 s"),
        ("limit_amps = 10\nbath = 'north'", "line 4: supplies.bench-1.bath: no bath 'north'; add "
         '[baths."north"]'),
        ("limit_amps = 10\nbath = 'swabpot'\n[baths.'swab pot']\nlitres = 1", "line 4: "
         "supplies.bench-1.bath: no bath 'swabpot'; did you mean 'swab pot'?"),
        ("limit_amps = 10\n[no_data]\nafter_s = 0", "line 5: no_data.after_s must be at least 1"),
        ("limit_amps = 10\n[no_data]\nafter_s = false", "must be a number, not false"),
        ("limit_amps = 10\n[no_data]\nafter_s = 31", "must be at most 30"),
        ("limit_amps = 10\n[forcast]\nhorizon_s = 60", "line 4: forcast is not known at "
         "the top; did you mean forecast?"),
        ("limit_amps = 10\n[supplies.bench-1]", "line 4: supplies.bench-1 occurs twice"),
        ("limit_amps = 10\n[supplies.' ']\naddress = 'scpi:/dev/x'\nlimit_amps = 1",
         "a name needs 1 to 40 printable characters"),
        ("limit_amps = 10\n[baths.x]\nlitres = 0", "line 5: baths.x.litres must be over 0"),
        ("limit_amps = 10\n[baths]\nx = 3", "line 5: baths.x must be a table"),
        ("limit_amps = 10\n[store]\nfile = 3", "line 5: store.file must be the name of a file"),
        ("limit_amps = 10\n[store]\nfile = ''", "line 5: store.file: needs the name of a file"),
        ("limit_amps = ", "line 3: not valid TOML: 'limit_amps =' (Invalid value)"),
        ("limit_amps = 10\nbath = '''", "line 4: not valid TOML"),
    ],
)  # fmt: skip
def test_each_mistake_is_told_with_its_line_and_cure(tmp_path: Path, line: str, says: str) -> None:
    assert says in refusal(tmp_path, LEAST.replace("limit_amps = 10", line))


def test_a_bad_address_is_told_with_a_good_one(tmp_path: Path) -> None:
    message = refusal(tmp_path, LEAST.replace("scpi:/dev/ttyUSB0", "/dev/ttyUSB0"))
    assert message.startswith(", line 2: supplies.bench-1.address:")
    assert "write it like scpi:/dev/ttyUSB0?baud=9600" in message


@pytest.mark.parametrize("text", ["", "[supplies]\n", "[forecast]\nhorizon_s = 60\n"])
def test_a_bench_without_a_supply_is_refused(tmp_path: Path, text: str) -> None:
    assert "[supplies.NAME]" in refusal(tmp_path, text)


def test_a_file_that_is_not_there_or_not_text_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadSettings, match="no such file; check --config"):
        load_bench(tmp_path / "bench.toml")
    with pytest.raises(BadSettings, match="cannot be read"):
        load_bench(tmp_path)
    (tmp_path / "bench.toml").write_bytes(b"# K\xfchlung\n")
    with pytest.raises(BadSettings, match="is not UTF-8 text"):
        load_bench(tmp_path / "bench.toml")


def test_the_limits_in_force_are_said_in_plain_sentences(tmp_path: Path) -> None:
    bench = load(tmp_path, SAMPLE)
    assert effective_limits_in_words(bench, "bench-1") == [
        "bench-1 cuts out at 10 A; a warning is raised when that is expected within 120 s.",
        "bench-1 is read every 0.2 s; 5 s without a good reading raise an alarm.",
        "bench-1 is connected to north tank, 9 L, which conducts 1.75 % more for each kelvin.",
        "Step clean: 4 to 8 V, up to 3 min.",
        "Step strip: 6 to 12 V, 3.9 to 8 A/dm2, 1 to 30 min, 15 to 43 C.",
        "The sleeve can carry 8.4 A all day and reaches 63 % of its final temperature rise in "
        "90 s.",
        "The leads are 4 m of gauge 12.",
        "By their gauge they can carry 30 A all day in free air (National Electrical Code, table "
        "310.17, 60 C).",
        "The work, 1.6 dm2, can take 8 A/dm2.",
        "north tank must not get warmer than 45 C.",
        "The alarm density-high is OUT OF SERVICE and will not be raised: the area of rims is not "
        "known here.",
    ]
    second = effective_limits_in_words(bench, "bench-2")
    assert "holds the current at 5 A" in second[0]
    assert any(one.startswith("Heat of leads and swab is not watched") for one in second)
    alone = load(tmp_path, LEAST)
    assert any(
        "not connected to a bath" in one for one in effective_limits_in_words(alone, "bench-1")
    )


def test_what_the_amps_go_through_reaches_the_estimators(tmp_path: Path) -> None:
    fittings = load(tmp_path, SAMPLE).fittings("bench-1")
    assert fittings.conductors == (Conductor("sleeve", 8.0, 90.0, 1.05),)
    assert fittings.leads == Leads(12.0, 4.0)
    assert fittings.job == Job(1.6, 0.3, 8.0)
    assert fittings.most_celsius == 45.0
    assert fittings.for_card(JobCard()).most_celsius == 43.0
    assert load(tmp_path, LEAST).fittings("bench-1") == Fittings()


def test_the_shops_own_steps_come_in_its_own_order_with_their_windows(tmp_path: Path) -> None:
    steps = load(tmp_path, SAMPLE).fittings("bench-1").steps
    assert [step.line for step in steps] == [
        "clean: 4 to 8 V, up to 3 min",
        "strip: 6 to 12 V, 3.9 to 8 A/dm2, 1 to 30 min, 15 to 43 C",
    ]


def test_a_strip_without_volts_has_the_default_or_those_of_the_bench(tmp_path: Path) -> None:
    # Tanks: 6 V (Products Finishing, "Stripping nickel chrome"), 4 to 6 V (NMFRC, questions and
    # answers, March 2007). Swabs: 6 to 12 V, common practice, no source. Both are said as defaults.
    dip = "[steps.dip]\n[steps.strip]\nminutes = [0, 20]\n"
    own = "[volts_window]\nlowest_volts = 5.0\nhighest_volts = 9.0\n"
    steps = load(tmp_path, LEAST + dip).fittings("bench-1").steps
    assert [(step.name, step.volts) for step in steps] == [("dip", None), ("strip", (2.5, 12.0))]
    lines = {way: steps[-1].done_with(way).line for way in Way}
    assert lines == {
        Way.TANK: "strip: 2.5 to 12 V (default for a tank), up to 20 min",
        Way.SWAB: "strip: 6 to 12 V (default for a swab), up to 20 min",
    }
    sentences = effective_limits_in_words(load(tmp_path, LEAST), "bench-1")
    (said,) = [sentence for sentence in sentences if "with a swab" in sentence]
    assert said == "A strip with a swab has 6 to 12 V (default)."
    of_the_bench = load(tmp_path, LEAST + own).fittings("bench-1").steps[-1]
    assert of_the_bench.volts == of_the_bench.done_with(Way.SWAB).volts == (5.0, 9.0)
    assert "default" not in of_the_bench.line
    of_the_shop = load(tmp_path, LEAST + "[steps.strip]\nvolts = [4.0, 7.0]\n").fittings("bench-1")
    assert of_the_shop.for_card(JobCard(way=Way.SWAB)).window == VoltsWindow(4.0, 7.0)
    assert load(tmp_path, LEAST + own + dip).fittings("bench-1").steps[-1].volts == (5.0, 9.0)


@pytest.mark.parametrize(
    ("window", "told"),
    [
        ("volts = [12.0, 6.0]", "steps.strip.volts: give the lowest first"),
        ("volts = [6.0]", "steps.strip.volts must be a lowest and a highest value"),
        ("volts = [6.0, 8.0, 12.0]", "steps.strip.volts must be a lowest and a highest value"),
        ('volts = ["6", "12"]', "steps.strip.volts[1] must be a number"),
        ("volts = 6.0", "steps.strip.volts must be a lowest and a highest value"),
        ("amps_per_dm2 = [0, 1000]", "steps.strip.amps_per_dm2[2] must be at most 200"),
        ("volt = [6.0, 12.0]", "did you mean volts"),
    ],
)
def test_a_step_that_cannot_be_is_refused(tmp_path: Path, window: str, told: str) -> None:
    assert told in refusal(tmp_path, f"{LEAST}[steps.strip]\n{window}\n")


def test_a_volts_window_that_is_none_is_refused(tmp_path: Path) -> None:
    text = LEAST + "\n[volts_window]\nlowest_volts = 12.0\nhighest_volts = 6.0\n"
    with pytest.raises(BadSettings, match="lowest_volts must be below highest_volts"):
        load(tmp_path, text)


def test_the_store_lies_in_the_users_own_data_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    # XDG Base Directory Specification, XDG_DATA_HOME.
    monkeypatch.setenv("XDG_DATA_HOME", "/somewhere")
    monkeypatch.setattr("sys.platform", "linux")
    assert default_store_path() == Path("/somewhere/bathvigil/bathvigil.db")


FORWARD = '[forward]\nurl = "http://10.0.0.9:8428/"\nbucket = "benches"\nbench = "bench-a"\n'


def test_forwarding_is_off_until_it_is_asked_for(tmp_path: Path) -> None:
    assert load(tmp_path, LEAST).forward.url is None
    forward = load(tmp_path, LEAST + FORWARD + 'token_file = "token"\n').forward
    assert (forward.url, forward.gzip, forward.site) == ("http://10.0.0.9:8428", True, "")
    assert forward.token_file == tmp_path / "token"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[forward]\nbucket = "b"\n', "url is missing in [forward]"),
        ('[forward]\nurl = "http://h"\n', "line 5: forward.url: bucket is missing in [forward]"),
        ('[forward]\nurl = "http://h"\nbucket = "b"\n', "bench is missing in [forward]"),
        (FORWARD.replace("http", "ftp"), 'line 5: forward.url: write it like "http://'),
        (FORWARD.replace("10.0.0.9", "[10"), 'forward.url: write it like "http://'),
        (FORWARD + 'token_file = "t"\ntoken_env = "T"\n', "line 9: forward.token_env: give"),
        (FORWARD + 'token = "abc"\n', "line 8: token is not known in [forward]; did you mean"),
        (FORWARD + "back_fill_points_per_s = 0\n", "must be at least 10"),
    ],
)
def test_each_mistake_about_forwarding_is_told_with_its_line(
    tmp_path: Path, text: str, says: str
) -> None:
    assert says in refusal(tmp_path, LEAST + text)


def test_a_secret_in_the_address_or_the_settings_is_refused_and_not_repeated(
    tmp_path: Path,
) -> None:
    for text in (
        FORWARD.replace("//10", "//me:canary-4711@10"),
        FORWARD.replace("8428/", "8428/?u=me&p=canary-4711"),
        FORWARD + 'token = "canary-4711"\n',
    ):
        assert "canary" not in refusal(tmp_path, LEAST + text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('[alarms.density-hihg]\nout_of_service = "no area"\n', "did you mean 'density-high'?"),
        ('[alarms.no-data]\nout_of_service = "too loud"\n', "is critical and stays in service"),
        ('[alarms.tripped]\nout_of_service = "too loud"\n', "is critical and stays in service"),
        ("[alarms.density-high]\n", "out_of_service is missing in [alarms.density-high]"),
        ("[alarms.density-high]\nout_of_service = true\n", "must be a text in quotes, not true"),
        ('[alarms.density-high]\nout_of_service = ""\n', "must have at least 3 characters"),
        ('[sound]\ncommand = "horn \'half"\n', "sound.command: cannot be read as a command line"),
        ('[sound]\ncommand = ""\n', "sound.command: names no program"),
        ("[notices.channels.x]\nprogram = 'a \"b'\n", "cannot be read as a command line"),
    ],
)
def test_no_alarm_is_silenced_by_a_slip(tmp_path: Path, text: str, says: str) -> None:
    message = refusal(tmp_path, LEAST + text)
    assert says in message
    assert ", line " in message


def test_an_alarm_is_out_of_service_for_a_reason(tmp_path: Path) -> None:
    bench = load(tmp_path, LEAST + '[alarms.disk-low]\nout_of_service = "a disk of 2 TB"\n')
    assert bench.out_of_service() == {"disk-low": "a disk of 2 TB"}
