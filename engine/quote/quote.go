package quote

import (
	"platebook/engine/findings"
	"platebook/engine/say"
)

// Check reads the files and says whether they can be printed and what will go
// wrong. A file that cannot be read, or should not be printed, is an answer
// with a finding that stops it; an error means the ask itself is wrong.
func Check(a Ask) (*Answer, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	ans, facts := read(&a)
	if facts != nil {
		a.say("looking for what will go wrong")
		ans.conclude(findings.Find(*facts))
	}
	return ans, nil
}

// Quote is Check with the whole print planned, simulated and priced. Figures
// are left out when there is nothing that can be planned.
func Quote(a Ask) (*Answer, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	ans, facts := read(&a)
	if facts == nil {
		return ans, nil
	}
	if err := figure(&a, ans, facts); err != nil {
		// The ask was looked at before: it is this part that is beyond planning.
		ans.Findings = append(ans.Findings, finding("not-planned", findings.Stop, say.Of("No print of it can be planned: %s", err)))
	}
	a.say("looking for what will go wrong")
	ans.conclude(findings.Find(*facts))
	return ans, nil
}

// finding makes one of a saying.
func finding(id string, s findings.Severity, text say.Saying) findings.Finding {
	text = say.Sentence(text)
	return findings.Finding{ID: id, Severity: s, Message: text.String(), Saying: text}
}

func (ans *Answer) conclude(found []findings.Finding) {
	ans.Findings = append(ans.Findings, found...)
	ans.Printable = findings.Printable(ans.Findings)
}

// figure works out the figures, and adds to facts what the findings need of it.
func figure(a *Ask, ans *Answer, facts *findings.Facts) error {
	l, err := a.lay(facts.Mesh, len(ans.ColourParts), a.Way)
	if err != nil {
		return err
	}
	f, err := a.figures(l, a.Way)
	if err != nil {
		return err
	}
	a.tell(ans, facts, l, f)
	return nil
}

// tell adds what was laid to the answer and to what the findings know.
func (a *Ask) tell(ans *Answer, facts *findings.Facts, l *laid, f *Figures) {
	ans.Plan, ans.Figures = l.plan, f
	facts.Plan, facts.Layers, facts.Cut = l.plan, l.layers, l.cut
	if f == nil {
		ans.Findings = append(ans.Findings, finding("nothing-laid", findings.Stop,
			say.Of("No bead of the part could be laid: everything in it is thinner than a bead. Print it larger, or ask for a file with thicker walls.")))
		return
	}
	for i, c := range ans.ColourParts {
		if i < len(l.tools) && l.plan.Deposited(i) == 0 {
			ans.Findings = append(ans.Findings, finding("colour-lost", findings.Ask, say.Of(
				"Nothing is printed of the colour part %s: it lies inside another, or is too thin. Where colour parts overlap the later one is printed; give the files in another order if that is not meant.",
				colourSaid(c, i))))
		}
	}
	facts.Seconds, facts.LongestSeconds = f.PrintTimeS, a.LongestPrint
	facts.Grams, facts.SpoolGrams = map[string]float64{}, map[string]float64{}
	for _, m := range l.tools {
		facts.Grams[m.Name], facts.SpoolGrams[m.Name] = f.MassG[m.ID]/float64(f.Copies), m.SpoolGrams
	}
}
