package findings

import (
	"slices"
	"strings"

	"platebook/engine/say"
)

// What the file and the ask say by themselves, before any geometry.

func (l *look) unit() {
	reason := say.End(l.UnitReason)
	if l.UnitReason.Empty() || l.UnitStated {
		return
	}
	if l.UnitDoubtful {
		l.say("unit-doubtful", Ask, say.Join(" ", reason, say.Of("Ask the patron how large it should be.")), nil)
		return
	}
	l.say("unit-judged", Note, reason, nil)
}

func (l *look) warnings() {
	for _, w := range l.Warnings {
		if sentence(w.String()) != "" {
			l.say("odd-file", Note, say.End(w), nil)
		}
	}
}

func (l *look) printerName() say.Saying {
	if l.Printer.Name == "" {
		return say.Of("this printer")
	}
	return say.Of("the %s", sentenceless(l.Printer.Name))
}

// sentenceless is a name from a profile, fit for the middle of a sentence.
func sentenceless(s string) string { return strings.TrimRight(sentence(s), ".!?") }

func (l *look) wants() {
	if tools := l.Printer.Tools; tools > 0 && l.WantedMaterials > tools {
		l.say("two-materials", Stop, say.Of(
			"This needs %d materials at once and %s holds %d. Choose a printer that holds more, or print it in one colour and without soluble supports.",
			l.WantedMaterials, l.printerName(), tools), nil,
			"wanted_materials", l.WantedMaterials, "printer_materials", tools)
	}
	if s, most := l.Seconds, l.LongestSeconds; s > 0 && most > 0 && s > most {
		l.say("over-longest-print", Stop, say.Of(
			"One print would take %s; the longest allowed here is %s. A thicker layer, less infill or a smaller size shortens it; otherwise it has to be cut into parts.",
			hours(s), hours(most)), nil, "time_s", s, "longest_s", most)
	}
	var names []string
	for name := range l.Grams {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		g, spool := l.Grams[name], l.SpoolGrams[name]
		if g > 0 && spool > 0 && g > spool {
			l.say("more-than-a-spool", Ask, say.Of(
				"One print needs %s g of %s and a full spool holds %s g. Somebody has to change the spool during the print, or the part has to be smaller or hold less infill.",
				figure(g), sentenceless(name), figure(spool)), nil, "needed_g", g, "spool_g", spool)
		}
	}
}

// cautions gathers those of the materials into one note.
func (l *look) cautions() {
	var all []string
	var said []say.Saying
	for _, m := range l.Materials {
		for _, c := range m.Cautions {
			if c = sentence(c); c != "" && !slices.Contains(all, c) {
				all, said = append(all, c), append(said, say.Text(c))
			}
		}
	}
	if len(all) > 0 {
		l.say("cautions", Note, say.Join(" ", append(said, say.Of("Local rules come first."))...), nil)
	}
}
