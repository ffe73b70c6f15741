package mail

import (
	"slices"
)

// Idea: what a word means for a request hangs on the clause it stands in. "Two
// of these" is a wish in "I need two of these", none in "two of these broke".
// So a letter is cut into sentences and clauses, and each word gets a mood:
// that of the last word before it, in its clause, that sets one; else of the
// first behind it; else that in which the clause before ended. A rule that
// cannot tell says nothing.
type mood int

const (
	bare     mood = iota // no verb: "Two, in red."
	asked                // "I need", "please"
	told                 // "is", "I have": how things are
	gone                 // "printed", "broke": how things were
	theirs               // "you open": the library's ways
	inquiry              // "does PLA melt?"
	supposed             // "if you have only red"
)

type hit struct {
	kind kind
	n    int // tokens
}

type saying struct {
	from, to int // tokens
	question bool
	lex      []*lexicon
}

// classify gives every token its kinds, clause and mood.
func (w *wisher) classify() {
	w.mood = make([]mood, len(w.toks))
	w.denied, w.inside = make([]bool, len(w.toks)), make([]bool, len(w.toks))
	for n := range w.said {
		s := &w.said[n]
		for _, x := range s.lex {
			hidden := s.from
			for i := s.from; i < s.to; i++ {
				if i < hidden {
					w.inside[i] = true
					continue
				}
				x.lookup(w.toks[i:s.to], func(n int, kinds []kind) {
					if hides(kinds) {
						hidden = max(hidden, i+n)
					}
					for _, k := range kinds {
						w.hits[i] = append(w.hits[i], hit{k, n})
						w.ends[i+n-1] = append(w.ends[i+n-1], hit{k, n})
					}
				})
			}
		}
		clause := 0
		for i := s.from; i < s.to; i++ {
			if i > s.from && w.opens(i) {
				clause++
			}
			w.toks[i].clause = clause
		}
		w.moods(*s)
		w.denials(*s)
	}
}

// Phrases of these kinds mean something else than their words, which are
// therefore not looked up: there is no denial in "no later than", and no past in
// "was wondering". Any other phrase is the sum of its words.
var hiding = []kind{kWant, kPlease, kYet, kNoThing, kNoVerb, kPast, kPastTime, kIdiom, kUnmarked, kTag, kEnclose, kLimit, kThan, kAtLatest, kDeadline, kStrict, kMust, kWished, kState, kPossible, kLargest, kHalf, kDouble, kTreble, kFolds, kLess, kTotal, kMonthEnd, kNextWeek, kAfterTomorrow}

func hides(kinds []kind) bool {
	return slices.ContainsFunc(kinds, func(k kind) bool { return slices.Contains(hiding, k) })
}

// opens says whether a clause begins at a token.
func (w *wisher) opens(i int) bool {
	switch w.toks[i].low {
	case ",", "(", ")":
		return true
	case "/":
		return !w.toks[i].glued
	case "-":
		return !w.toks[i].glued
	}
	if w.toks[i-1].low == ":" && !w.toks[i].glued && !w.label(i-1) {
		return true
	}
	if w.is(i, kPlease) {
		return false
	}
	if w.is(i, kTurn) || w.is(i, kLink) {
		return !w.toks[i-1].mark && !(w.is(i, kThanThat) && w.halfDenied(i))
	}
	if w.is(i, kJoin) && i+1 < len(w.toks) && !w.within(i-3, i, kOnlyNot) { // ne ... plus
		return w.is(i+1, kSubject) || w.is(i+1, kWant, kMust) || w.is(i+1, kTurn) || w.is(i+1, kPast) || w.is(i+1, kProduce)
	}
	return false
}

// label says whether what stands before a colon, few words and no verb, names
// what follows: "height wanted: 14 cm".
func (w *wisher) label(colon int) bool {
	for k := colon - 1; k >= 0 && k > colon-5 && w.toks[k].sentence == w.toks[colon].sentence; k-- {
		if w.is(k, kLabels, kQuantity, kColour, kSized, kTall, kWide, kDeep, kLong, kInfill, kScaleWord, kDeadline, kBranch, kCollect, kSupport, kStuff) {
			return true
		}
		if w.toks[k].mark || w.is(k, kSubject, kWant, kMust) {
			return false
		}
	}
	return false
}

// halfDenied says whether "ne" stands before "que".
func (w *wisher) halfDenied(i int) bool {
	for k := i - 1; k >= 0 && k > i-6 && w.toks[k].sentence == w.toks[i].sentence; k-- {
		if w.onlyThat(k) {
			return true
		}
	}
	return false
}

// many tells how many tokens from i on are of one of these kinds: none, or a
// word or phrase.
func (w *wisher) many(i int, kinds ...kind) int {
	if i < 0 || i >= len(w.toks) {
		return 0
	}
	most := 0
	for _, h := range w.hits[i] {
		if slices.Contains(kinds, h.kind) {
			most = max(most, h.n)
		}
	}
	return most
}

func (w *wisher) is(i int, kinds ...kind) bool { return w.many(i, kinds...) > 0 }

// onlyThat says whether a word that looks like a denial is the first half of
// "ne ... que", which denies nothing.
func (w *wisher) onlyThat(i int) bool {
	if !w.is(i, kOnlyNot) {
		return false
	}
	end := w.sentenceOf(i).to
	for k := i + 1; k < min(end, i+6) && !w.is(k, kNoVerb, kNoThing); k++ {
		if w.is(k, kThanThat) {
			return true
		}
	}
	return false
}

// denials marks what a denial bears on.
func (w *wisher) denials(s saying) {
	for i := s.from; i < s.to; i++ {
		if w.is(i, kYet) {
			continue
		}
		verb, thing := w.many(i, kNoVerb), w.many(i, kNoThing)
		if w.is(i, kThanThat) && w.within(max(s.from, i-6), i, kRather) { // plutôt du PETG que du PLA
			thing = 1
		}
		if verb+thing == 0 || w.onlyThat(i) {
			continue
		}
		for k := i + max(verb, thing); k < s.to && w.toks[k].clause == w.toks[i].clause; k++ {
			if w.is(k, kTurn) || thing > 0 && (k > i+6 || w.is(k, kJoin) && !w.is(k, kEither)) {
				break
			}
			w.denied[k] = true
		}
	}
}
