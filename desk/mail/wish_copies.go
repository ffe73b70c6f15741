package mail

import (
	"strconv"
)

// copies finds how many of a thing are asked for. A number is a count only in
// a frame that says so: "3 copies", "two of these", "x4", "I need five", "two
// in red", "two please". The articles a, un and une count nothing by
// themselves.
func (w *wisher) copies() {
	for i := 0; i < len(w.toks); i++ {
		v, n := w.number(i)
		if n == 0 {
			if from, _ := w.clauseOf(i); w.is(i, kTwice) && w.free(i, i+1) && w.wished(i) && w.produced(i, from) && !w.is(i+1, kArticle, kMine, kOther) {
				w.add(CopiesField, "2", "", i, i+1)
			}
			continue
		}
		if v == float64(int(v)) && v >= 1 && v <= 500 && w.free(i, i+n) && w.countable(i, n) {
			if from, to, ok := w.counts(i, n, int(v)); ok {
				w.add(CopiesField, strconv.Itoa(int(v)), "", from, to)
			}
		}
		i += n - 1
	}
}

// countable leaves out figures that are part of something longer: telephone
// numbers, hours, codes, and what stands behind "room" or "page".
func (w *wisher) countable(i, n int) bool {
	end := w.sentenceOf(i).to
	if !w.wished(i) {
		return false
	}
	if i > 0 {
		before := w.toks[i-1]
		if w.toks[i].glued && !(before.mark && (before.low == "(" || before.low == "×" || before.low == "*" || before.low == "\"")) && before.low != "x" {
			return false
		}
		if before.digits || w.before(i, kThe, kMine) > 0 && w.before(i, kAll) < 2 || w.before(i, kLabel) > 0 && w.before(i, kQuantity) == 0 && !w.is(i+n, kOften) && !w.sign(i+n) {
			return false
		}
	}
	if w.ranged(i, n) {
		return false
	}
	if i+n < end {
		after := w.toks[i+n]
		if after.digits || after.glued && (after.low == "/" || after.low == ":" || after.low == "-") || w.is(i+n, kUnitOther) && !w.sign(i+n) && !w.is(i+n, kOften) || w.isMonth(i+n) {
			return false
		}
		if _, k := w.unit(i+n, end); k > 0 && after.low != "\"" {
			return false
		}
	}
	return true
}

// ranged says whether another number stands beside, as in "two or three".
func (w *wisher) ranged(i, n int) bool {
	if w.is(i+n, kRange) && i+n+1 < w.sentenceOf(i).to {
		if _, m := w.number(i + n + 1); m > 0 && w.toks[i+n+1].clause == w.toks[i].clause && !w.is(i+n, kJoin) || m > 0 && w.is(i+n, kEither) {
			return true
		}
	}
	if w.before(i, kRange) > 0 && i > 1 && (!w.is(i-1, kJoin) || w.is(i-1, kEither)) {
		if w.toks[i-2].digits || w.wordNumber(i-2) {
			return true
		}
	}
	return false
}

func (w *wisher) wordNumber(i int) bool {
	_, m := w.number(i)
	return m == 1 && !w.is(i, kArticle)
}

func (w *wisher) sign(i int) bool {
	return i >= 0 && i < len(w.toks) && (w.toks[i].low == "x" || w.toks[i].low == "×" || w.toks[i].low == "*")
}

// counts tells the tokens that make the number at i a count.
func (w *wisher) counts(i, n, v int) (from, to int, ok bool) {
	start, end := w.clauseOf(i)
	s := w.sentenceOf(i)
	to = i + n
	// x4, 4x, 4 x the gear
	if w.sign(i-1) && i-1 >= s.from {
		if before, _ := w.number(i - 2); before == 0 {
			return i - 1, to, true
		}
		return 0, 0, false
	}
	if to < end && w.sign(to) {
		if after, _ := w.number(to + 1); after == 0 {
			return i, to + 1, true
		}
		return 0, 0, false
	}
	// Quantity: 3
	k := w.back(i, start, kOf, kBe, kJust)
	if q := w.before(k, kQuantity); q > 0 && (k-q == s.from || w.toks[i-1].low == ":" || w.toks[i-1].low == "=") {
		return k - q, to, true
	}
	if to+2 < s.to && w.toks[to].low == "(" && w.toks[to+2].low == ")" { // two (2) copies
		if again, _ := w.number(to + 1); again == float64(v) {
			to += 3
			_, end = w.clauseOf(min(to, s.to-1))
		}
	}
	article := !w.toks[i].digits && n == 1 && w.is(i, kArticle)
	// 3 more copies
	after := w.skip(to, end, kMore)
	if c := w.many(after, kCopyWord); c > 0 {
		return i, after + c, true
	}
	if c := w.many(after, kPieces); c > 0 && w.before(i, kWithin) == 0 && !article {
		return i, after + c, true
	}
	// two of these, trois de la grande
	if c := w.many(to, kOf); c > 0 && !w.toks[to].mark {
		if k := to + c; v > 1 && k < end && w.toks[k].low == "\x00" || v > 1 && w.noun(k, end) && !w.is(k, kMine, kArticle, kPeople, kThese, kUnitOther) && w.mood[i] == asked {
			return i, k, true
		}
		if d := w.many(to+c, kThese); d > 0 && !w.subjectOf(to+c+d, end) {
			return i, to + c + d, true
		}
	}
	if c := w.many(to, kOfThese); c > 0 && to+c <= end && !w.subjectOf(to+c, end) && !w.is(to+c, kPeople) {
		return i, to + c, true
	}
	if c := w.many(to, kEach); c > 0 {
		return i, to + c, true
	}
	// two in red, 2 roses et 1 bleue
	if c := w.colourAfter(to, s.to); c > to && (!article || c > to+1) && !w.follows(i, kArticle, kMine, kThese) {
		return i, c, true
	}
	if m := w.before(i, kSetOf); m > 0 && w.mood[i] == asked && v > 1 { // a set of six
		return i - m, to, true
	}
	if k := to + 1; v > 1 && !article && w.is(to, kForWhom) && w.is(k, kMine, kGiven, kSubject) && (i == start || w.before(i, kJoin) > 0 || i == start+1 && w.toks[start].mark) {
		return i, to, true // 3 for me and 2 for my sister
	}
	lead, asks := i, 0
	for lead > start {
		if asks = w.before(lead, kWant, kMust, kProduce); asks > 0 {
			break
		}
		n := w.before(lead, kJust, kGiven, kAll)
		if n == 0 {
			break
		}
		lead = max(start, lead-n)
	}
	if t := w.many(to, kOften); t > 0 && !w.sign(to) && !w.is(to, kFolds, kLess) && w.produced(i, start) { // print it three times
		return i, to + t, true
	}
	first := w.skip(start, i, kTurn, kJoin, kJust)
	if w.toks[start].mark {
		first = w.skip(start+1, i, kTurn, kJoin, kJust)
	}
	group := n > 1 && !w.toks[i].digits && w.is(i, kArticle) // "a dozen"
	stops := to >= end || w.toks[to].mark || w.is(to, kOther) || w.is(to, kPlease) || w.is(to, kMore) && !w.noun(to+1, end)
	if i == first && w.is(after, kPlease) && !article && v > 1 { // trois suffiront
		return i, after + w.many(after, kPlease), true
	}
	if i == first && w.before(i, kJust) > 0 && stops && v > 1 && !article && (to >= end) {
		return i, to, true
	}
	if w.is(to, kOf) && group {
		// "a dozen of fishes", "une douzaine de poissons"
		if w.noun(to+w.many(to, kOf), end) && !w.is(to+w.many(to, kOf), kUncopied, kFeature, kUnitOther) {
			return i, to, true
		}
		return 0, 0, false
	}
	if w.is(to, kOf) && !w.toks[to].mark && !w.is(to, kPlease) {
		return 0, 0, false
	}
	named := w.noun(after, end) && !w.is(after, kUncopied, kFeature, kUnitOther) && !w.is(after+1, kUncopied, kFeature) && v > 1
	switch {
	case i == first && group && v == 1 && w.is(after, kPlease, kWant):
		return i, to, true
	case asks > 0 && stops && (!article || w.before(i, kSome) > 0 || w.before(lead, kSome) > 0):
		return lead - asks, to, true
	case asks > 0 && named && !article:
		return i, after + 1, true
	case i == first && stops && !article && (v > 1 || group) && (after >= end || w.is(after, kPlease, kInColour)) && (i == s.from || group || w.polite(i)):
		to = after + w.many(after, kPlease)
		if to >= end && !group && !w.polite(i) {
			return 0, 0, false
		}
		return i, to, true
	case i == s.from && named && (w.polite(i) || w.coloured(*s)):
		return i, after + 1, true
	}
	return 0, 0, false
}

func (w *wisher) follows(i int, kinds ...kind) bool { return w.before(i, kinds...) > 0 }

// subjectOf says whether what stands before i does something: "two of these
// are broken".
func (w *wisher) subjectOf(i, end int) bool {
	return i < end && w.is(i, kState, kPast, kHaving) && !w.is(i, kPlease, kWant, kMust)
}

// produced says whether a verb of making stands before, in the same clause.
func (w *wisher) produced(i, from int) bool {
	for k := i - 1; k >= from && k > i-20; k-- {
		if w.is(k, kProduce) {
			return true
		}
	}
	return false
}

// polite says whether a sentence asks.
func (w *wisher) polite(i int) bool {
	s := w.sentenceOf(i)
	for k := s.from; k < min(s.to, s.from+60); k++ {
		if w.is(k, kPlease) {
			return true
		}
	}
	return false
}

// coloured says whether a sentence names a colour as something is to be.
func (w *wisher) coloured(s saying) bool {
	for k := s.from; k < min(s.to, s.from+60); k++ {
		if w.used[k] && w.nameAt(k) != nil {
			return true
		}
	}
	return false
}

// colourAfter is where a colour ends that follows at i, with "in" or without,
// else i.
func (w *wisher) colourAfter(i, end int) int {
	k := w.skip(i, min(end, i+4), kInColour, kShade, kOnes)
	if nm := w.nameAt(k); nm != nil && nm.field == ColourField && k < end {
		return nm.to
	}
	return i
}
