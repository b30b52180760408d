"""The calculators as an interface for programs: what is answered, how it is refused, and how it is described.

The description is checked against the schema that the OpenAPI Initiative publishes for OpenAPI 3.1 documents,
https://spec.openapis.org/oas/3.1/schema/2022-10-07 (Apache License 2.0), kept unchanged in ``tests/references``; the
schemas in it, and the answers, with the jsonschema library.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from browser_team import Site, make_team, site_over
from conftest import Outcome
from declared_calculator import Found, declared
from jsonschema import Draft202012Validator

from bevelbook.declare.errors import PluginFault
from bevelbook.manual.calculators_for_programs import ADDRESS
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.registry import Offered, Registry
from bevelbook.web.host.answers_to_programs import refused_program
from bevelbook.web.worker.calculators import CalculatorsBusy
from bevelbook.web.worker.stopped import stopped

OFFICIAL = Path(__file__).parents[2] / "references/openapi_3_1_schema.json"
WORDS = {"dry_mass_g": "12.40 ± 0.02 g", "oil_mass_g": "1860 mg", "scale_step_g": "0.01", "repeatability_g": "0.002"}


@pytest.fixture(scope="module")
def team(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_team(tmp_path_factory.mktemp("api") / "team.db", note="short").path


@pytest.fixture(scope="module")
def site(team: Path, registry: Registry) -> Iterator[Site]:
    with site_over(team, registry) as made:
        yield made


@pytest.fixture(scope="module")
def described(site: Site) -> Any:
    answer = site.get("/-/openapi.json")
    assert answer.status_code == 200
    return answer.json()


def resolved(described: Any, reference: str) -> Any:
    for step in reference.removeprefix("#/").split("/"):
        described = described[step]
    return described


def test_the_description_is_an_openapi_document_with_schemas_of_json_schema(described: Any, registry: Registry) -> None:
    official = json.loads(OFFICIAL.read_text(encoding="utf-8"))
    assert official["$id"] == "https://spec.openapis.org/oas/3.1/schema/2022-10-07"
    assert [fault.message for fault in Draft202012Validator(official).iter_errors(described)] == []
    broken = {**described, "paths": {"no-slash": {}}}
    assert list(Draft202012Validator(official).iter_errors(broken)) != []
    for schema in described["components"]["schemas"].values():
        Draft202012Validator.check_schema(schema)
    paths = set(described["paths"])
    assert paths == {f"/{{database}}/-/calc/{name}.json" for name in registry.calculators} | {
        "/{database}/{table}.json"
    }
    operations = [path["get"]["operationId"] for path in described["paths"].values()]
    assert len(set(operations)) == len(operations)
    for path in described["paths"].values():
        for parameter in path["get"]["parameters"]:
            parameter = resolved(described, parameter["$ref"]) if "$ref" in parameter else parameter
            Draft202012Validator.check_schema(parameter["schema"])
            for example in parameter.get("examples", {}).values():
                assert list(Draft202012Validator(parameter["schema"]).iter_errors(example["value"])) == []
        for answer in path["get"]["responses"].values():
            answer = resolved(described, answer["$ref"]) if "$ref" in answer else answer
            assert resolved(described, answer["content"]["application/json"]["schema"]["$ref"])


def test_a_calculator_answers_as_the_command_line_does(
    site: Site, described: Any, team: Path, bevelbook: Callable[..., Outcome]
) -> None:
    answer = site.get("/team/-/calc/fill-target.json", params=WORDS)
    assert (answer.status_code, answer.headers["content-type"]) == (200, "application/json; charset=utf-8")
    words = [word for name, text in WORDS.items() for word in (f"--{name.removesuffix('_g').replace('_', '-')}", text)]
    assert answer.json() == bevelbook("--db", team, "calc", "fill-target", *words, "--json").json
    schema = described["components"]["schemas"]["fill_target"]
    assert [fault.message for fault in Draft202012Validator(schema).iter_errors(answer.json())] == []
    of_record = site.get("/team/-/calc/fill-target.json", params={"for": "rear-a/1", "oil_mass_g": "1.86"})
    assert of_record.json()["origins"]["dry_mass_g"] == "build rear-a/1"
    assert of_record.json()["opened"].keys() == {"rear-a/1"}
    listed = site.get("/team/-/calc/blend.json", params={"parts": ["7000:3", "10000 cSt:1 g"]})
    assert listed.json()["inputs"]["parts"][1] == {"viscosity_cst": 10000.0, "mass_g": 1.0}
    as_in_manual = site.get(ADDRESS.partition(":8001")[2])
    assert as_in_manual.json()["inputs"]["temperature_c"] == 60.0
    rows = site.get("/team/builds.json?_shape=objects&_size=1")
    assert list(Draft202012Validator(described["components"]["schemas"]["rows"]).iter_errors(rows.json())) == []


@pytest.mark.parametrize(
    ("address", "status", "code", "field", "words"),
    [
        ("fill-targt.json", 404, "unknown_calculator", None, "Did you mean fill-target?"),
        ("fill-target.json", 400, "missing_input", "dry_mass_g", "Give it in g."),
        ("fill-target.json?dry_mass_g=heavy", 400, "number_unparseable", "dry_mass_g", None),
        ("fill-target.json?dry_mass_g=-1&oil_mass_g=1", 400, "out_of_range", "dry_mass_g", None),
        ("fill-target.json?dry_mas_g=1", 400, "odd_argument", "dry_mas_g", "Did you mean dry_mass_g"),
        ("fill-target.json?dry_mass_g=1&dry_mass_g=2", 400, "odd_argument", "dry_mass_g", None),
        ("fill-target.json?for=rear-x", 400, "unknown_build", None, None),
        ("blend.json?parts=7000:3:1", 400, "listing_item_parts", "parts", "Join the values with a colon."),
    ],
)
def test_what_is_asked_wrongly_says_what_where_and_what_to_do(
    site: Site, described: Any, address: str, status: int, code: str, field: str | None, words: str | None
) -> None:
    answer = site.get(f"/team/-/calc/{address}")
    said = answer.json()
    assert (answer.status_code, said["status"], said["ok"], said["code"]) == (status, status, False, code)
    assert said["field"] == field
    assert words is None or words in said["remedy"]
    assert "--" not in answer.text and "bevelbook " not in answer.text  # a program has no command line
    assert [
        one.message for one in Draft202012Validator(described["components"]["schemas"]["fault"]).iter_errors(said)
    ] == []


def test_only_reading_is_answered(site: Site) -> None:
    async def post() -> Any:
        await site.datasette.invoke_startup()  # which a server does before its first answer
        return await site.datasette.client.post("/team/-/calc/fill-target.json", json={"dry_mass_g": 12.4})

    import asyncio

    answer = asyncio.run(post())
    assert (answer.status_code, answer.headers["allow"], answer.json()["code"]) == (405, "GET, HEAD", "no_method")


def test_a_plugin_that_fails_is_not_the_inputs_fault_and_one_that_takes_too_long_may_be_asked_again(team: Path) -> None:
    registry = Registry()

    def fails(given: Any) -> Found:
        raise RuntimeError("a slip in the plugin")

    failing = declared(compute=fails)
    registry.calculators[failing.name] = Offered(failing, Origin("slip", "/folder/of/somebody/slip.py"))
    with site_over(team, registry) as site:
        answer = site.get("/team/-/calc/doubling.json?mass_g=1")
        assert (answer.status_code, answer.json()["code"]) == (500, "plugin_failed")
        assert "somebody" not in answer.text
        assert site.get("/-/openapi.json").json()["paths"].keys() >= {"/{database}/-/calc/doubling.json"}
    busy = CalculatorsBusy("others wait", code="calculators_busy", remedy="Wait.")
    for fault in (busy, stopped(failing.owner, "it took over 2 s and was stopped")):
        answer = refused_program(fault)
        assert (answer.status, answer.headers["retry-after"]) == (503, "5")
    assert isinstance(stopped(failing.owner, "x"), PluginFault)
