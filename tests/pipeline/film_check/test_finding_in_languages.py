"""What the film check says, in the language of its reader; JSON keeps the words of files."""

from pipeline.core.messages import message, shipped
from pipeline.film_check.finding import Finding, finding_lines, heading

SPANISH = shipped("es", "feet")
FINDINGS = (
    Finding("person", "fine", message("check.found", n=6, looks=6)),
    Finding(
        "size",
        "could be better",
        message("check.small", height=80.0, away=message("check.away", away=9.1), needed=100.0),
        message("check.go_nearer_to", to=7.3, zoom=1.25),
        unsure=("step_back_m",),
    ),
)


def test_findings_are_told_in_the_language_and_units_of_the_reader():
    assert heading("a.mp4", FINDINGS, SPANISH) == "a.mp4: se miraron 2 cosas: 1 bien, 1 mejorable"
    lines = finding_lines(FINDINGS, SPANISH)
    assert lines[0] == "  bien        persona  Al jugador se le encuentra en 6 de 6 vistazos."
    text = " ".join(" ".join(lines).split())
    assert "80 píxeles de alto en la imagen, a unos 30 ft; hacen falta 100." in text
    assert "Acércate, a unos 23 ft 11 in, haz zoom de 1,2 aumentos antes de grabar" in text
    assert text.endswith("Menos seguro: largo del paso atrás.")


def test_in_english_they_are_as_they_stand_in_files():
    assert heading("a.mp4", FINDINGS) == "a.mp4: 2 things looked at: 1 fine, 1 could be better"
    assert finding_lines(FINDINGS)[0] == (
        "  fine             person  The athlete is found in 6 of 6 looks."
    )
    assert FINDINGS[1].as_dict()["verdict"] == "could be better"
    assert FINDINGS[1].note.startswith("The athlete is about 80 pixels tall in the picture, some 9")
