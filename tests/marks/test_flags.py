from regscan.marks.flags import SENTENCES, MarkFlag, describe


def test_every_flag_has_its_sentence():
    assert set(SENTENCES) == set(MarkFlag)


def test_a_clean_mark_says_nothing_and_two_flags_say_both():
    assert describe(MarkFlag(0)) == ""
    both = describe(MarkFlag.CLIPPED | MarkFlag.FAINT)
    assert both == f"{SENTENCES[MarkFlag.CLIPPED]}; {SENTENCES[MarkFlag.FAINT]}"
