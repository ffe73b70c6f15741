package mail

import (
	"slices"
)

// sentences finds where each begins and ends, and what language it is in.
func (w *wisher) sentences() {
	w.hits, w.ends = make([][]hit, len(w.toks)), make([][]hit, len(w.toks))
	total := make([]int, len(lexicons))
	var scores [][]int
	for from := 0; from < len(w.toks); {
		to := from
		for to < len(w.toks) && !w.toks[to].breaks {
			to++
		}
		to = min(to+1, len(w.toks))
		s := saying{from: from, to: to, question: w.toks[to-1].low == "?"}
		score := make([]int, len(lexicons))
		for i := from; i < to; i++ {
			w.toks[i].sentence = len(w.said)
			hit, known := make([]bool, len(lexicons)), 0
			for n, x := range lexicons {
				if hit[n] = x.knows(w.toks[i:to]); hit[n] {
					known++
				}
			}
			if known == 1 {
				score[slices.Index(hit, true)]++
				total[slices.Index(hit, true)]++
			}
		}
		w.said = append(w.said, s)
		scores = append(scores, score)
		from = to
	}
	letter := best(total)
	for n := range w.said {
		// Words of two languages in one sentence: both are read.
		score := scores[n]
		if letter >= 0 {
			score[letter]++
		}
		if b := best(score); b >= 0 {
			for k, x := range lexicons {
				if k == b || score[k] > 1 {
					w.said[n].lex = append(w.said[n].lex, x)
				}
			}
		} else {
			w.said[n].lex = lexicons
		}
	}
}

// best is the one highest score, -1 where none is.
func best(score []int) int {
	at, most, tied := -1, 0, false
	for i, s := range score {
		if s > most {
			at, most, tied = i, s, false
		} else if s == most {
			tied = true
		}
	}
	if tied {
		return -1
	}
	return at
}

// lookup finds the words and phrases the tokens begin with.
func (x *lexicon) lookup(toks []token, found func(n int, kinds []kind)) {
	t := toks[0]
	if t.mute || t.digits || t.low == "\x00" {
		return
	}
	any := false
	for _, key := range []string{t.low, t.fold} {
		if key == "" || key == t.low && any {
			continue
		}
		for _, p := range x.phrases[key] {
			if len(p.words) <= len(toks) && fits(p.words, toks) {
				any = true
				found(len(p.words), p.kinds)
			}
		}
		if t.fold == t.low {
			break
		}
	}
	if !any && !t.mark && x.colours[t.low] == nil {
		for n := min(6, len(t.low)-1); n > 0; n-- {
			if k := x.ends[t.low[len(t.low)-n:]]; k != nil {
				found(1, k)
				return
			}
		}
	}
}

func fits(words []string, toks []token) bool {
	for i, word := range words {
		if !toks[i].same(word) {
			return false
		}
	}
	return true
}

// knows says whether a word is one of the language's.
func (x *lexicon) knows(toks []token) bool {
	any := x.colours[toks[0].low] != nil && !toks[0].mute
	x.lookup(toks, func(int, []kind) { any = true })
	return any
}

// begins tells how long a phrase of a kind is that the tokens begin with, in
// any language.
func begins(toks []token, k kind) int {
	most := 0
	for _, x := range lexicons {
		x.lookup(toks, func(n int, kinds []kind) {
			if slices.Contains(kinds, k) {
				most = max(most, n)
			}
		})
	}
	return most
}
