"""A room imports lower floors only; rooms on one floor do not know each other."""

import pytest

from tests.house.plan import SCENES, floors, imports, modules, name_of, room_of

RUNGS = {"errors": 0, "values": 1, "outputs": 1}  # floor 0 has an order of its own


def test_the_table_names_every_room_and_no_other() -> None:
    rooms = {room_of(name_of(file)) for file in modules()}
    missing = rooms - set(floors())
    assert not missing, f"DEVELOPERS.md does not say on which floor {sorted(missing)} are"


@pytest.mark.parametrize("file", modules(), ids=name_of)
def test_a_room_imports_lower_floors_only(file) -> None:
    room = room_of(name_of(file))
    for module in imports(file):
        if not module.startswith("emulate.") or room_of(module) == room:
            continue
        other = room_of(module)
        lower = floors()[other] < floors()[room] or RUNGS.get(other, 9) < RUNGS.get(room, 0)
        assert lower, f"{room} (floor {floors()[room]}) imports {module} (floor {floors()[other]})"


def test_kernels_import_no_other_room() -> None:
    for file in modules():
        if room_of(name_of(file)) == "_kernels":
            ours = [
                module
                for module in imports(file)
                if module.startswith("emulate") and room_of(module) != "_kernels"
            ]
            assert not ours, f"{name_of(file)} imports {ours}"


def test_the_walk_sees_an_import_inside_a_function() -> None:
    """The walk itself: `scene` of demo_frames is only reached from inside a command."""
    command = next(file for file in modules() if name_of(file) == "emulate.commands.demo")
    assert "emulate.demo_frames" in set(imports(command))
    assert "emulate.demo_frames.canvas" in set(imports(SCENES / "noise.py"))


def test_a_higher_room_is_opened_by_name_in_one_place_only() -> None:
    """`import_module` hides from the walk above: who uses it, and for which rooms."""
    users = {
        name_of(file)
        for file in modules()
        if "import_module" in file.read_text("utf-8") and room_of(name_of(file)) != "demo_frames"
    }
    assert users == {
        "emulate.display",  # a notebook asks a value, and the report draws it
        "emulate.frames.still",  # one reader a kind of file, in its own room
    }
