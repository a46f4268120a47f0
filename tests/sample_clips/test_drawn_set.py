"""Clips drawn by a seed: the same seed gives the same clips, another one others."""

from sample_clips.render.sets import table


def test_a_seed_decides_the_clips():
    assert table("drawn", 3) == table("drawn", 3)
    assert table("drawn", 3) != table("drawn", 4)


def test_every_move_is_drawn_and_two_players_never_wear_the_same_jersey():
    for seed in range(5):
        clips = table("drawn", seed)
        assert {clip.move for clip in clips} == {
            "high_to_low_shot",
            "throwback_pass",
            "close_gap_dodge",
        }
        for clip in clips:
            assert (clip.defender is not None) == (clip.move == "close_gap_dodge")
            assert clip.defender is None or (
                clip.defender.clothes.jersey != clip.athlete.clothes.jersey
            )
