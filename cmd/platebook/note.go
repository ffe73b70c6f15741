package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"platebook/engine/findings"
	"platebook/engine/quote"
)

// The human output reads like a note to a colleague: what it is, what has to be
// settled, what it takes, what it costs.

const noteWidth = 88

// note writes one answer.
func note(w io.Writer, a *quote.Answer) {
	name := strings.Join(append([]string{a.File}, a.With...), " with ")
	fmt.Fprintf(w, "%s: %s\n\n", plain(name), verdict(a))
	if a.Format != "" {
		para(w, "", description(a))
		if a.Pose != "" {
			para(w, "", a.Pose)
		}
		fmt.Fprintln(w)
	}
	for _, group := range []struct {
		severity findings.Severity
		title    string
	}{
		{findings.Stop, "What stops it"},
		{findings.Ask, "To settle with the patron"},
		{findings.Note, "Worth knowing"},
	} {
		first := true
		for _, f := range a.Findings {
			if f.Severity != group.severity {
				continue
			}
			if first {
				fmt.Fprintln(w, group.title)
				first = false
			}
			para(w, "  – ", f.Message)
		}
		if !first {
			fmt.Fprintln(w)
		}
	}
	for _, f := range a.Findings {
		if len(f.Places) > 0 {
			para(w, "", "(Places are in mm: x, y from the middle of the part's footprint, z from the platform.)")
			fmt.Fprintln(w)
			break
		}
	}
	if a.Figures != nil {
		figures(w, a)
	}
}

func verdict(a *quote.Answer) string {
	count := map[findings.Severity]int{}
	for _, f := range a.Findings {
		count[f.Severity]++
	}
	switch {
	case count[findings.Stop] > 0:
		return "cannot be printed as it is."
	case count[findings.Ask] == 1:
		return "can be printed, once one thing is settled."
	case count[findings.Ask] > 1:
		return fmt.Sprintf("can be printed, once %s things are settled.", word(count[findings.Ask]))
	}
	return "can be printed."
}

func description(a *quote.Answer) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s with %s, read in %s: %s", aFormat(a.Format), plural(a.Facets, "facet"), unitWords(a.Unit), size(a))
	if a.Scale != 1 {
		fmt.Fprintf(&b, " at %s of the size in the file", asPercent(a.Scale))
	}
	what := plural(a.Bodies, "body", "bodies")
	if a.Cavities > 0 {
		what += " with " + plural(a.Cavities, "cavity inside", "cavities inside")
	}
	if a.Closed {
		volume := number(a.VolumeMM3/1000, 1) + " cm³"
		if a.VolumeMM3 < 1000 {
			volume = number(a.VolumeMM3, 1) + " mm³"
		}
		if a.Bodies > 1 {
			volume += ", each measured by itself"
		}
		fmt.Fprintf(&b, ", %s of %s.", what, volume)
	} else {
		fmt.Fprintf(&b, ", %s, the surface not closed.", what)
	}
	if n := len(a.ColourParts); n > 1 {
		var names []string
		for _, c := range a.ColourParts {
			names = append(names, fmt.Sprintf("%s in %s", plain(c.Name), c.Material))
		}
		fmt.Fprintf(&b, " %s colour parts: %s.", strings.ToUpper(word(n)[:1])+word(n)[1:], strings.Join(names, ", "))
	}
	return b.String()
}

func figures(w io.Writer, a *quote.Answer) {
	f := a.Figures
	each := ""
	if f.Copies > 1 {
		each = fmt.Sprintf("%d copies, one after another: ", f.Copies)
	}
	var masses []string
	for _, m := range sorted(f.MassG) {
		masses = append(masses, fmt.Sprintf("%s g of %s (%s m of filament)", little(f.MassG[m], 1), m, little(f.FilamentM[m], 1)))
	}
	para(w, "", fmt.Sprintf("On %s, %s: %s%s, %s, %s.", f.Printer, f.Way, each, plural(f.Layers, "layer"), duration(f.TimeS), strings.Join(masses, " and ")))
	if f.Copies > 1 {
		para(w, "", fmt.Sprintf("Each print takes %s.", duration(f.PrintTimeS)))
	}
	var waste []string
	if f.SupportsG >= 0.05 {
		waste = append(waste, number(f.SupportsG, 1)+" g are supports, taken off afterwards")
	}
	if f.BasePurgeG >= 0.05 {
		waste = append(waste, number(f.BasePurgeG, 1)+" g are base and purge")
	}
	if len(waste) > 0 {
		para(w, "", "Of that, "+strings.Join(waste, ", and ")+".")
	}
	fmt.Fprintln(w)
	price(w, f)
}

func price(w io.Writer, f *quote.Figures) {
	width, amount := 0, 0
	for _, l := range f.Price.Lines {
		width = max(width, len([]rune(l.Label)))
		amount = max(amount, len(l.Amount.Number()))
	}
	total := "Total, " + f.Price.Currency
	width, amount = max(width, len(total)), max(amount, len(f.Price.Total.Number()))
	for _, l := range f.Price.Lines {
		fmt.Fprintf(w, "  %-*s  %*s\n", width, l.Label, amount, l.Amount.Number())
	}
	fmt.Fprintf(w, "  %s\n", strings.Repeat("─", width+2+amount))
	fmt.Fprintf(w, "  %-*s  %*s\n", width, total, amount, f.Price.Total.Number())
	for _, l := range f.Price.Included {
		fmt.Fprintf(w, "  %-*s  %*s\n", width, l.Label, amount, l.Amount.Number())
	}
	fmt.Fprintln(w)
	if len(f.PriceSaid) > 0 {
		para(w, "  ", "("+strings.Join(f.PriceSaid, "; ")+")")
		fmt.Fprintln(w)
	}
}

// para writes text wrapped, its first line after lead and the rest indented alike.
func para(w io.Writer, lead, text string) {
	indent := strings.Repeat(" ", len([]rune(lead)))
	line, used := lead, len([]rune(lead))
	start := true
	for _, wd := range strings.Fields(plain(text)) {
		n := len([]rune(wd))
		if !start && used+1+n > noteWidth {
			fmt.Fprintln(w, line)
			line, used, start = indent, len(indent), true
		}
		if !start {
			line, used = line+" ", used+1
		}
		line, used, start = line+wd, used+n, false
	}
	fmt.Fprintln(w, line)
}

// plain takes control characters out of what came from a patron's file, so that
// a name cannot move the cursor or colour the terminal.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || (r >= 0x80 && r < 0xa0) || (r >= 0x202a && r <= 0x202e) || (r >= 0x2066 && r <= 0x2069) {
			return ' '
		}
		return r
	}, s)
}

func size(a *quote.Answer) string {
	return fmt.Sprintf("%s × %s × %s mm", number(a.SizeMM[0], 1), number(a.SizeMM[1], 1), number(a.SizeMM[2], 1))
}

// number has at most d decimals, none of them a trailing zero.
func number(x float64, d int) string {
	s := fmt.Sprintf("%.*f", d, x)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return s
}

// little is number, but says of something that it is not nothing.
func little(x float64, d int) string {
	if s := number(x, d); s != "0" || x == 0 {
		return s
	}
	return "under " + number(math.Pow10(-d), d)
}

func asPercent(x float64) string { return number(100*x, 1) + " %" }

// duration is in the words a desk uses, to the minute above a minute.
func duration(s float64) string {
	if s < 60 {
		return plural(int(math.Ceil(s)), "second")
	}
	d := time.Duration(math.Ceil(s/60)) * time.Minute
	h, m := int(d.Hours()), int(d.Minutes())%60
	switch {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %d min", h, m)
}

// plural is "1 facet", "2 facets", or with a form of its own.
func plural(n int, one string, many ...string) string {
	if n == 1 {
		return "1 " + one
	}
	form := one + "s"
	if len(many) > 0 {
		form = many[0]
	}
	return grouped(n) + " " + form
}

// grouped parts digits by threes from 10 000 on, with a space that does not
// break (SI brochure, 5.4.4).
func grouped(n int) string {
	s := fmt.Sprint(n)
	if len(s) < 5 {
		return s
	}
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "\u00a0" + s[i:]
	}
	return s
}

func word(n int) string {
	if n >= 0 && n < 10 {
		return []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"}[n]
	}
	return fmt.Sprint(n)
}

func aFormat(f string) string {
	if strings.HasPrefix(f, "A") || strings.HasPrefix(f, "O") {
		return "An " + f
	}
	return "A " + f
}

func unitWords(u string) string {
	if w, ok := map[string]string{"mm": "millimetres", "cm": "centimetres", "m": "metres", "inch": "inches", "foot": "feet", "micron": "microns"}[u]; ok {
		return w
	}
	return u
}

func sorted[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
