from courses.mapping.trade import CURLS, DIAMETERS, TradeList, millimetres


def test_the_trade_list_runs_from_003_to_025_mm_and_from_j_to_u():
    # common practice, no source
    assert [millimetres(each) for each in DIAMETERS] == [
        *("0.03", "0.04", "0.05", "0.06", "0.07", "0.08"),
        *("0.10", "0.12", "0.15", "0.18", "0.20", "0.25"),
    ]
    assert set(CURLS) == {"J", "B", "C", "CC", "D", "DD", "L", "LC", "M", "U"}


def test_a_list_reads_as_a_sentence_ends():
    assert TradeList((5, 15)).diameter_words == "0.05, 0.15 mm"
