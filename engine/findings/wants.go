package findings

import (
	"fmt"
	"slices"
	"strings"
)

// What the file and the ask say by themselves, before any geometry.

func (l *look) unit() {
	reason := sentence(l.UnitReason)
	if reason == "" || l.UnitStated {
		return
	}
	if l.UnitDoubtful {
		l.say("unit-doubtful", Ask, reason+" Ask the patron how large it should be.", nil)
		return
	}
	l.say("unit-judged", Note, reason, nil)
}

func (l *look) warnings() {
	for _, w := range l.Warnings {
		if w = sentence(w); w != "" {
			l.say("odd-file", Note, w, nil)
		}
	}
}

func (l *look) printerName() string {
	if l.Printer.Name == "" {
		return "this printer"
	}
	return "the " + sentenceless(l.Printer.Name)
}

// sentenceless is a name from a profile, fit for the middle of a sentence.
func sentenceless(s string) string { return strings.TrimRight(sentence(s), ".!?") }

func (l *look) wants() {
	if tools := l.Printer.Tools; tools > 0 && l.WantedMaterials > tools {
		l.say("two-materials", Stop, fmt.Sprintf(
			"This needs %d materials at once and %s holds %d. Choose a printer that holds more, or print it in one colour and without soluble supports.",
			l.WantedMaterials, l.printerName(), tools), nil,
			"wanted_materials", l.WantedMaterials, "printer_materials", tools)
	}
	if s, most := l.Seconds, l.LongestSeconds; s > 0 && most > 0 && s > most {
		l.say("over-longest-print", Stop, fmt.Sprintf(
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
			l.say("more-than-a-spool", Ask, fmt.Sprintf(
				"One print needs %s g of %s and a full spool holds %s g. Somebody has to change the spool during the print, or the part has to be smaller or hold less infill.",
				figure(g), sentenceless(name), figure(spool)), nil, "needed_g", g, "spool_g", spool)
		}
	}
}

// cautions gathers those of the materials into one note.
func (l *look) cautions() {
	var all []string
	for _, m := range l.Materials {
		for _, c := range m.Cautions {
			if c = sentence(c); c != "" && !slices.Contains(all, c) {
				all = append(all, c)
			}
		}
	}
	if len(all) > 0 {
		l.say("cautions", Note, strings.Join(all, " ")+" Local rules come first.", nil)
	}
}
