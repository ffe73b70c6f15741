package mail

import (
	"unicode/utf8"
)

// settle parts the text into sentences, and drops the marks that only part.
func (w *wisher) settle() {
	raw := tokens(w.text)
	lines := linesOf(raw)
	w.quieten(raw, lines)
	for n, l := range lines {
		for i := l[0]; i < l[1]; i++ {
			t := raw[i]
			if t.low == "|" || t.low == "-" && !t.glued && i > l[0] && i <= l[0]+3 && i+1 < l[1] && !raw[i+1].glued && begins(raw[l[0]:l[1]], kLabels) == i-l[0] {
				t.low = ":" // "Copies - 3"
			}
			if quote := t.low == "\"" && !(t.glued && i > l[0] && raw[i-1].digits) || t.low == "'" || t.low == "*" && (i == l[0] || !raw[i-1].digits); quote {
				if i+1 < l[1] {
					raw[i+1].glued = false
				}
				continue // words in quotation marks are words
			}
			last := i+1 == l[1]
			switch {
			case t.low == ".", t.low == "!", t.low == "?", t.low == ";", t.low == "•":
				ends := t.low != "." || last || !raw[i+1].glued && !(i > l[0] && abbreviated(raw, i, l[0]))
				if k := len(w.toks); ends && k > 0 {
					if t.low == "?" {
						w.toks = append(w.toks, t)
						k++
					}
					w.toks[k-1].breaks = true
				}
				continue
			}
			if last && (n+1 == len(lines) || ended(w.text, raw, l, lines[n+1])) {
				t.breaks = true
			}
			w.toks = append(w.toks, t)
		}
		// A line that ends in a mark that was dropped.
		if k := len(w.toks); k > 0 && l[1] > l[0] && raw[l[1]-1].mark && n+1 < len(lines) && ended(w.text, raw, l, lines[n+1]) {
			w.toks[k-1].breaks = true
		}
	}
}

// linesOf gives the tokens of each line; an empty line has none.
func linesOf(raw []token) [][2]int {
	var out [][2]int
	from := 0
	for i, t := range raw {
		if t.low == "\n" {
			out = append(out, [2]int{from, i})
			from = i + 1
		}
	}
	return append(out, [2]int{from, len(raw)})
}

func abbreviated(raw []token, i, from int) bool {
	before, after := raw[i-1], raw[i+1]
	if points[before.low] {
		return before.low != "no" && before.low != "min" && before.low != "max" || after.digits
	}
	return before.low == "in" && !after.capital && i-1 > from && raw[i-2].digits || len(before.low) == 1 && before.capital
}

// ended says whether a line was ended on purpose, not only for want of room: a
// program that breaks lines does it where the next word would not fit.
func ended(text string, raw []token, l, following [2]int) bool {
	if l[0] == l[1] || following[0] == following[1] {
		return true
	}
	line := text[raw[l[0]].from:raw[l[1]-1].to]
	first := raw[following[0]]
	if first.low == "-" || first.low == "*" || first.low == "•" || first.digits && following[0]+1 < following[1] && raw[following[0]+1].low == ")" {
		return true
	}
	if following[0]+1 < following[1] && raw[following[0]+1].low == ":" {
		return true
	}
	return utf8.RuneCountInString(line) < 50
}
