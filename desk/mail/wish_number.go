package mail

import (
	"strings"
)

// number reads the number that begins at a token, in figures or in words, and
// tells how many tokens it takes; none where it is no number to count on.
func (w *wisher) number(i int) (float64, int) {
	v, n := w.whole(i)
	if n > 0 && v == float64(int(v)) {
		if h := w.many(i+n, kAndHalf); h > 0 {
			return v + 0.5, n + h
		}
	}
	return v, n
}

func (w *wisher) whole(i int) (float64, int) {
	if i < 0 || i >= len(w.toks) || w.toks[i].mute {
		return 0, 0
	}
	s := w.sentenceOf(i)
	t := w.toks[i]
	if t.digits {
		if t.value < 0 {
			return 0, 0
		}
		// "2 1/2", "1/2", "2½"
		if f, n := w.fraction(i, s.to); n > 0 {
			return f, n
		}
		if f, n := w.fraction(i+1, s.to); n > 0 && f < 1 && t.value == float64(int(t.value)) {
			return t.value + f, n + 1
		}
		return t.value, 1
	}
	for _, x := range s.lex {
		for n := 4; n > 0; n-- {
			if i+n > s.to {
				continue
			}
			v, ok := x.numbers[w.spelled(i, i+n)]
			if !ok {
				continue
			}
			if v >= 20 && v <= 90 && i+n < s.to { // twenty-four, twenty four
				if u := x.numbers[w.toks[i+n].low]; u > 0 && u < 20 {
					return float64(v + u), n + 1
				}
			}
			return float64(v), n
		}
	}
	return 0, 0
}

// fraction reads "1/2" or "½".
func (w *wisher) fraction(i, to int) (float64, int) {
	if i >= to || !w.toks[i].digits {
		return 0, 0
	}
	if strings.ContainsAny(w.toks[i].low, "½¼¾") {
		return w.toks[i].value, 1
	}
	if i+2 < to && w.toks[i+1].low == "/" && w.toks[i+1].glued && w.toks[i+2].glued {
		over, under := w.toks[i].value, w.toks[i+2].value
		if over >= 1 && over < under && (under == 2 || under == 4 || under == 8 || under == 16) {
			return over / under, 3
		}
	}
	return 0, 0
}

func (w *wisher) spelled(from, to int) string {
	if to == from+1 {
		if t := w.toks[from]; t.fold != "" {
			return t.fold
		}
		return w.toks[from].low
	}
	var b strings.Builder
	for i := from; i < to; i++ {
		if i > from {
			b.WriteByte(' ')
		}
		b.WriteString(w.toks[i].low)
	}
	return b.String()
}

func (w *wisher) sentenceOf(i int) *saying { return &w.said[w.toks[i].sentence] }

// clauseOf gives the tokens of the clause a token stands in, at most 40 to
// either side.
func (w *wisher) clauseOf(i int) (int, int) {
	s := w.sentenceOf(i)
	from, to := i, i+1
	for from > s.from && i-from < 40 && w.toks[from-1].clause == w.toks[i].clause {
		from--
	}
	for to < s.to && to-i < 40 && w.toks[to].clause == w.toks[i].clause {
		to++
	}
	return from, to
}

// before tells how many tokens up to i, i not among them, are of one of these
// kinds: a word or a phrase.
func (w *wisher) before(i int, kinds ...kind) int {
	if i <= 0 || i > len(w.toks) {
		return 0
	}
	for _, h := range w.ends[i-1] {
		for _, k := range kinds {
			if h.kind == k {
				return h.n
			}
		}
	}
	return 0
}

// back goes back over words of these kinds, as far as limit, and no more than
// 20: a letter may be one long list.
func (w *wisher) back(i, limit int, kinds ...kind) int {
	for steps := 0; i > limit && steps < 20; steps++ {
		n := w.before(i, kinds...)
		if n == 0 || i-n < limit {
			break
		}
		i -= n
	}
	return i
}

// skip goes on over words of these kinds.
func (w *wisher) skip(i, limit int, kinds ...kind) int {
	for steps := 0; i < limit && steps < 20; steps++ {
		n := 0
		for _, k := range kinds {
			n = max(n, w.many(i, k))
		}
		if n == 0 {
			break
		}
		i += n
	}
	return i
}
