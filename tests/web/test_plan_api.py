"""The plan, its history and its people over the JSON interface."""

from __future__ import annotations

from typing import Any

from rollsound.web.desk import Desk


def test_the_plan_as_document_and_text(mixer: Any) -> None:
    plan = mixer.get("/api/v1/plan").json()
    assert plan["plan"]["show"]["title"] == "Northbound Ferry"
    text = mixer.get("/api/v1/plan/text").json()
    assert text["revision"] == plan["revision"]
    assert "# also rigs" in text["text"]


def test_saving_text_and_undoing_it(mixer: Any) -> None:
    before = mixer.get("/api/v1/plan/text").json()
    new = before["text"].replace("Skarvik Film", "Skarvik Film and Sound")
    saved = mixer.put("/api/v1/plan/text", json={"text": new, "base_revision": before["revision"]}).json()
    assert [change["path"] for change in saved["changes"]] == ["/show/production"]
    entry = mixer.get("/api/v1/history?limit=1").json()["entries"][0]
    assert (entry["person"], entry["number"]) == ("Ines", saved["number"])
    assert mixer.post("/api/v1/undo").json()["changes"][0]["after"] == "Skarvik Film"
    assert mixer.get("/api/v1/plan/text").json()["text"] == before["text"]
    assert mixer.post("/api/v1/redo").status_code == 200
    compared = mixer.get(f"/api/v1/history/compare?older=1&newer={saved['revision']}").json()["changes"]
    assert compared == [{"path": "/show/production", "before": "Skarvik Film", "after": "Skarvik Film and Sound"}]


def test_all_mistakes_come_with_their_lines(mixer: Any) -> None:
    text = "version: 1\nshow: {title: ''}\npeople:\n  - {id: Ines, name: I}\n  - {id: b, name: B, role: king}\n"
    checked = mixer.post("/api/v1/plan/check", json={"text": text}).json()["mistakes"]
    assert [each["line"] for each in checked] == [2, 4, 5]
    answer = mixer.put("/api/v1/plan/text", json={"text": text, "base_revision": 1})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["mistakes"] == checked


def test_a_clash_names_both_values_and_who(mixer: Any) -> None:
    base = mixer.get("/api/v1/show").json()["revision"]
    change = {"name": "Tomas B.", "base_revision": base}
    assert mixer.put("/api/v1/people/tomas", json=change).status_code == 200
    answer = mixer.put("/api/v1/people/tomas", json={"name": "Tomasz", "base_revision": base})
    assert answer.status_code == 409
    problem = answer.json()
    assert "Tomas B." in problem["detail"]
    assert "Tomasz" in problem["detail"]
    assert problem["clashes"][0]["path"] == "/people/tomas/name"
    assert problem["clashes"][0]["their_person"] == "Ines"


def test_edits_of_different_fields_merge(mixer: Any) -> None:
    base = mixer.get("/api/v1/show").json()["revision"]
    assert mixer.put("/api/v1/people/tomas", json={"job": "boom", "base_revision": base}).status_code == 200
    assert mixer.put("/api/v1/people/tomas", json={"name": "Tomas B.", "base_revision": base}).status_code == 200
    tomas = mixer.get("/api/v1/people").json()["people"][1]
    assert (tomas["name"], tomas["job"]) == ("Tomas B.", "boom")


def test_people_come_and_go(mixer: Any) -> None:
    assert mixer.post("/api/v1/people", json={"name": "Zoë Ødegård"}).status_code == 200
    assert mixer.post("/api/v1/people", json={"name": "Zoë Ødegård"}).status_code == 200
    ids = [person["id"] for person in mixer.get("/api/v1/people").json()["people"]]
    assert ids == ["ines", "tomas", "zoe-degard", "zoe-degard-2"]
    assert mixer.delete("/api/v1/people/zoe-degard").status_code == 200
    assert mixer.delete("/api/v1/people/zoe-degard").status_code == 404


def test_edits_tell_null_from_nothing(mixer: Any) -> None:
    change = {"path": "/people/tomas/job", "before": "first boom"}
    saved = mixer.post("/api/v1/plan/edits", json={"changes": [change]}).json()
    assert saved["changes"] == [change]
    assert "after" not in saved["changes"][0]


def test_a_change_sent_twice_counts_once(mixer: Any, desk: Desk) -> None:
    sent = [
        mixer.post("/api/v1/people", json={"name": "Mina"}, headers={"idempotency-key": "key-0001"}) for _ in range(3)
    ]
    assert len({answer.text for answer in sent}) == 1
    assert [answer.headers.get("idempotency-replayed") for answer in sent] == [None, "true", "true"]
    names = [person["name"] for person in mixer.get("/api/v1/people").json()["people"]]
    assert names.count("Mina") == 1


def test_a_change_counts_once_also_over_a_new_start(mixer: Any, desk: Desk) -> None:
    """The answer may be lost between the commit and its keeping; the journal knows the key as well."""
    key = {"idempotency-key": "key-0002"}
    edit = {"changes": [{"path": "/show/unit", "after": "Main unit"}]}
    first = mixer.post("/api/v1/plan/edits", json=edit, headers=key).json()
    from sqlalchemy import text

    with desk.show.store._writing() as connection:
        connection.execute(text("delete from replies"))
    assert mixer.post("/api/v1/plan/edits", json=edit, headers=key).json() == first


def test_a_refused_change_may_be_tried_again_with_its_key(mixer: Any) -> None:
    key = {"idempotency-key": "key-0003"}
    assert mixer.delete("/api/v1/people/mina", headers=key).status_code == 404
    assert mixer.post("/api/v1/people", json={"name": "Mina"}).status_code == 200
    assert mixer.delete("/api/v1/people/mina", headers=key).status_code == 200


def test_the_key_of_one_device_is_nothing_to_another(mixer: Any, visitors: Any) -> None:
    other = visitors("mixer", "Second mixer")
    key = {"idempotency-key": "key-0004"}
    assert (
        mixer.post("/api/v1/people", json={"name": "Mina"}, headers=key).json()
        != other.post("/api/v1/people", json={"name": "Ravi"}, headers=key).json()
    )
    assert {"Mina", "Ravi"} <= {person["name"] for person in mixer.get("/api/v1/people").json()["people"]}


def test_script_in_the_plan_is_only_text(mixer: Any) -> None:
    script = "<script>alert(1)</script>"
    assert mixer.put("/api/v1/people/tomas", json={"name": script}).status_code == 200
    edit = {"path": "/schedule/days/day-4/scenes", "before": ["31", "32", "36"], "after": [script]}
    assert mixer.post("/api/v1/plan/edits", json={"changes": [edit]}).status_code == 200
    title = {"path": "/show/title", "before": "Northbound Ferry", "after": f"</title>{script}"}
    assert mixer.post("/api/v1/plan/edits", json={"changes": [title]}).status_code == 200
    for page in ("/settings", "/pages/settings/part/people"):
        assert "<script>alert" not in mixer.get(page).text


def test_a_bomb_of_aliases_is_refused(mixer: Any) -> None:
    bomb = "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
        f"{chr(98 + n)}: &{chr(98 + n)} [{','.join([f'*{chr(97 + n)}'] * 9)}]\n" for n in range(12)
    )
    answer = mixer.put("/api/v1/plan/text", json={"text": bomb, "base_revision": 1})
    assert answer.status_code in (400, 422)
    assert mixer.post("/api/v1/plan/check", json={"text": bomb}).json()["mistakes"]


def test_tags_of_yaml_make_nothing(mixer: Any, tmp_path: Any) -> None:
    made = tmp_path / "made"
    for tag in (f"!!python/object/apply:os.mkdir [{made}]", "!!python/name:os.system x", "!custom {a: 1}"):
        text = f"version: 1\nshow: {{title: x}}\nextra: {tag}\n"
        answer = mixer.put("/api/v1/plan/text", json={"text": text, "base_revision": 1})
        assert answer.status_code in (400, 422)
    assert not made.exists()


def test_going_back_to_a_backup_keeps_the_shut_out_out(mixer: Any, crew: Any, desk: Desk) -> None:
    made = mixer.post("/api/v1/backups").json()
    tomas = next(device for device in desk.doors.devices.all() if device.person == "Tomas")
    assert mixer.post("/api/v1/people", json={"name": "Mina"}).status_code == 200
    assert mixer.post(f"/api/v1/devices/{tomas.id}/revoke").status_code == 200
    answer = mixer.post(f"/api/v1/backups/{made['name']}/restore")
    assert answer.status_code == 200, answer.text
    assert answer.json()["aside"]
    names = [person["name"] for person in mixer.get("/api/v1/people").json()["people"]]
    assert "Mina" not in names
    assert crew.get("/api/v1/show").status_code == 401
    kept = {row.id: row for row in desk.show.store.devices()}
    assert kept[tomas.id].revoked is not None


def test_a_show_that_is_only_read_is_read(desk: Desk, visitors: Any) -> None:
    from rollsound.show.folder import Show
    from rollsound.web.security.doors import Doors

    with Show.open(desk.show.folder, read_only=True) as show:
        desk.show, desk.doors = show, Doors(show.store, port=8060, lan=True)
        browser = visitors()
        assert browser.get(f"/enter?key={desk.doors.keys.make()}").status_code == 303
        assert browser.get("/settings").status_code == 200
        answer = browser.post("/api/v1/people", json={"name": "Mina"}, headers={"idempotency-key": "key-0005"})
        assert answer.status_code == 400
        assert "reading only" in answer.json()["detail"]


def test_a_change_that_cannot_be_made_is_not_answered_as_saved(mixer: Any) -> None:
    for change in (
        {"path": "", "before": 1, "after": {}},
        {"path": "/people/#order", "before": 1, "after": ["x"]},
    ):
        answer = mixer.post("/api/v1/plan/edits", json={"changes": [change]})
        assert answer.status_code in (400, 409, 422), (change, answer.text)
    again = {"path": "/people/tomas/name", "after": "Tomas"}
    assert mixer.post("/api/v1/plan/edits", json={"changes": [{**again, "before": "Tomas"}]}).status_code == 200


def test_the_key_of_an_edit_is_none_of_an_undo(mixer: Any) -> None:
    key = {"idempotency-key": "q" * 20}
    renamed = {"changes": [{"path": "/people/tomas/name", "before": "Tomas", "after": "Tomas B."}]}
    assert mixer.post("/api/v1/plan/edits", json=renamed, headers=key).status_code == 200
    assert mixer.post("/api/v1/undo", headers=key).status_code == 200
    people = mixer.get("/api/v1/plan").json()["plan"]["people"]
    assert "Tomas" in [each["name"] for each in people]


def test_a_folder_that_no_disk_could_hold_is_refused_before_a_page_looks_for_it(mixer: Any) -> None:
    for field in ("recorder", "cards", "conformed", "turnover"):
        day = {"id": "m4", "day": "day-4", field: "/Vol\0ume"}
        edit = {"changes": [{"path": "/media", "after": [day]}], "sentence": "Day 4 lies here"}
        answer = mixer.post("/api/v1/plan/edits", json=edit)
        assert answer.status_code == 422, answer.text
        assert "no readable text" in answer.text
    assert mixer.get("/api/v1/media/0").status_code == 404
    assert mixer.get("/api/v1/ready").status_code == 200
