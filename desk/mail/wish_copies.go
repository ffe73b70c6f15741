package mail

import (
	"strconv"
)

// How many of a thing are asked for. A number is a count only in a frame that
// says so: "3 copies", "two of these", "x4", "I need five hooks", "12 in all",
// or a clause without a verb that begins with it: "two, please", "1 only".
// Each frame is a rule below; the first that fits decides. Rejected: any number
// before a noun (a letter counts children, holes and days), and the articles a,
// un and une, which count nothing by themselves.

// count is a number that may be one, at tokens from up to to, in a clause.
type count struct {
	from, to   int
	v          int
	start, end int  // of the clause
	stop       int  // of the sentence
	article    bool // un, une
	group      bool // a dozen
	after      int  // behind "more", "small", a measure
}

func (w *wisher) copies() {
	for i := 0; i < len(w.toks); i++ {
		v, n := w.number(i)
		switch {
		case n == 0 && w.is(i, kTwice):
			w.twice(i)
			continue
		case n == 0:
			continue
		}
		if v == float64(int(v)) && v >= 1 && v <= 500 && w.free(i, i+n) && w.countable(i, n) {
			c := w.countAt(i, n, int(v))
			for _, frame := range countFrames {
				if from, to := frame(w, &c); to > from {
					w.add(CopiesField, strconv.Itoa(int(v)), "", from, to)
					break
				}
			}
		}
		i += n - 1
	}
}

// twice reads "print it twice".
func (w *wisher) twice(i int) {
	if from, _ := w.clauseOf(i); w.free(i, i+1) && w.wished(i) && w.within(from, i, kProduce) && !w.is(i+1, kArticle, kMine, kOther) {
		w.add(CopiesField, "2", "", i, i+1)
	}
}

func (w *wisher) countAt(i, n, v int) count {
	c := count{from: i, to: i + n, v: v, stop: w.sentenceOf(i).to}
	c.start, c.end = w.clauseOf(i)
	if k := c.to; k+2 < c.stop && w.toks[k].low == "(" && w.toks[k+2].low == ")" { // two (2) copies
		if again, _ := w.number(k + 1); again == float64(v) {
			c.to += 3
			_, c.end = w.clauseOf(min(c.to, c.stop-1))
		}
	}
	c.article = !w.toks[i].digits && n == 1 && w.is(i, kArticle)
	c.group = n > 1 && !w.toks[i].digits && w.is(i, kArticle)
	c.after = w.skip(c.to, c.end, kMore, kGoodly)
	if m := w.measured[c.after]; m > 0 {
		c.after = w.skip(m, c.end, kMore, kGoodly)
	}
	return c
}

// countable leaves out figures that are part of something longer: telephone
// numbers, hours, codes, and what stands behind "room" or "page".
func (w *wisher) countable(i, n int) bool {
	return w.wished(i) && !w.ranged(i, n) && w.countsBehind(i, n) && w.countsBefore(i+n)
}

// countsBehind says whether a number may be a count by what stands before it.
func (w *wisher) countsBehind(i, n int) bool {
	if i == 0 {
		return true
	}
	before := w.toks[i-1]
	switch {
	case before.sentence != w.toks[i].sentence:
		return true
	case w.toks[i].glued && !(before.mark && (before.low == "(" || before.low == "×" || before.low == "*" || before.low == "\"")) && before.low != "x":
		return false
	case w.is(i, kOnes) && before.clause == w.toks[i].clause && w.noun(i-1, i) && w.before(i, kProduce, kGiven, kJust, kAll) == 0: // the next one
		return false
	case before.digits, w.before(i, kThe, kMine) > 0 && w.before(i, kAll) < 2:
		return false
	}
	return w.before(i, kLabel) == 0 || w.before(i, kQuantity) > 0 || w.is(i+n, kOften) || w.sign(i+n) || w.changed(i)
}

// countsBefore says whether a number may be a count by what stands behind it.
func (w *wisher) countsBefore(to int) bool {
	end := w.sentenceOf(to - 1).to
	if to >= end {
		return true
	}
	after := w.toks[to]
	switch {
	case after.digits && w.measured[to] == 0, after.glued && (after.low == "/" || after.low == ":" || after.low == "-") && to+1 < end && w.toks[to+1].glued, w.isMonth(to):
		return false
	case w.is(to, kUnitOther) && !w.sign(to) && !w.is(to, kOften):
		return false
	case w.is(to, kOf) && w.unitOf(to+w.many(to, kOf), end): // a dozen of inches
		return false
	}
	return after.low == "\"" || !w.unitOf(to, end)
}

func (w *wisher) unitOf(i, end int) bool {
	_, k := w.unit(i, end)
	return k > 0
}

// ranged says whether another number stands beside, as in "two or three".
func (w *wisher) ranged(i, n int) bool {
	if k := i + n + 1; w.is(i+n, kRange) && k < w.sentenceOf(i).to {
		if _, m := w.number(k); m > 0 && (w.toks[k].clause == w.toks[i].clause && !w.is(i+n, kJoin) || w.is(i+n, kEither)) {
			return true
		}
	}
	return w.before(i, kRange) > 0 && i > 1 && (!w.is(i-1, kJoin) || w.is(i-1, kEither)) && w.numberEnds(i-1) && !w.changed(i)
}

// numberEnds says whether a number in figures or one word stands before i.
func (w *wisher) numberEnds(i int) bool {
	_, m := w.number(i - 1)
	return m == 1 && (w.toks[i-1].digits || !w.is(i-1, kArticle))
}

// changed says whether a number is what another is to become: "from three to
// four".
func (w *wisher) changed(i int) bool {
	return i > 2 && w.before(i, kRange) > 0 && !w.is(i-1, kJoin) && w.numberEnds(i-1) && w.before(i-2, kFrom) > 0
}

func (w *wisher) sign(i int) bool {
	return i >= 0 && i < len(w.toks) && (w.toks[i].low == "x" || w.toks[i].low == "×" || w.toks[i].low == "*")
}

// The frames of a count, in the order they are tried. Each tells the tokens it
// rests on, or none.
var countFrames = []func(*wisher, *count) (from, to int){
	(*wisher).countSign, (*wisher).countLabel, (*wisher).countThings, (*wisher).countOf, (*wisher).countColour,
	(*wisher).countGroup, (*wisher).countChange, (*wisher).countAsked, (*wisher).countAlone,
}

// x4, 4x, 4 x the gear
func (w *wisher) countSign(c *count) (from, to int) {
	if w.sign(c.from-1) && c.from-1 >= w.sentenceOf(c.from).from {
		if before, _ := w.number(c.from - 2); before == 0 && w.before(c.from-1, kSized) == 0 {
			return c.from - 1, c.to
		}
	} else if c.to < c.end && w.sign(c.to) {
		if after, _ := w.number(c.to + 1); after == 0 {
			return c.from, c.to + 1
		}
	}
	return 0, 0
}

// Quantity: 3
func (w *wisher) countLabel(c *count) (from, to int) {
	k := w.back(c.from, c.start, kOf, kBe, kJust)
	q := w.before(k, kQuantity)
	if at := k - q; q > 0 && (at == c.start || at == c.start+1 && w.toks[c.start].mark || w.toks[c.from-1].low == ":" || w.toks[c.from-1].low == "=") {
		return at, c.to
	}
	return 0, 0
}

// 3 more copies, 4 pieces, one each, 12 in all
func (w *wisher) countThings(c *count) (from, to int) {
	if n := w.many(c.after, kCopyWord); n > 0 {
		return c.from, c.after + n
	}
	if n := w.many(c.after, kPieces); n > 0 && w.before(c.from, kWithin) == 0 && !c.article {
		return c.from, c.after + n
	}
	if n := w.many(c.to, kEach, kTotal); n > 0 {
		return c.from, c.to + n
	}
	return 0, 0
}

// two of these, trois de la grande, 3 of hook.stl
func (w *wisher) countOf(c *count) (from, to int) {
	if n := w.many(c.to, kOf); n > 0 && !w.toks[c.to].mark {
		k := c.to + n
		if k < c.stop && w.toks[k].mark && c.from == c.start { // two of, in white
			return c.from, k
		}
		file := k < c.end && w.toks[k].low == "\x00"
		if c.v > 1 && (file || w.mood[c.from] == asked && w.noun(k, c.end) && !w.is(k, kMine, kArticle, kPeople, kThese, kUnitOther)) {
			return c.from, k
		}
		if d := w.many(k, kThese); d > 0 && !w.subjectOf(k+d, c.end) && !w.noun(k+d, c.end) {
			return c.from, k + d
		}
	}
	if n := w.many(c.to, kOfThese); n > 0 && c.to+n <= c.end && !w.subjectOf(c.to+n, c.end) && !w.is(c.to+n, kPeople) {
		return c.from, c.to + n
	}
	return 0, 0
}

// two in red, 2 roses et 1 bleue
func (w *wisher) countColour(c *count) (from, to int) {
	k := w.skip(c.to, min(c.stop, c.to+4), kInColour, kShade, kOnes, kGoodly)
	nm := w.nameAt(k)
	if k >= c.stop || nm == nil || nm.field != ColourField || w.before(c.from, kArticle, kMine, kThese) > 0 {
		return 0, 0
	}
	listed := (c.from <= c.start+1 || w.before(c.from, kJoin) > 0) && (nm.to >= c.end || w.is(nm.to, kJoin)) // un rouge et un bleu
	if !c.article || nm.to > c.to+1 || listed {
		return c.from, nm.to
	}
	return 0, 0
}

// a set of six, a dozen fishes, 3 for me and 2 for my sister
func (w *wisher) countGroup(c *count) (from, to int) {
	if m := w.before(c.from, kSetOf); m > 0 && w.mood[c.from] == asked && c.v > 1 {
		return c.from - m, c.to
	}
	if k := c.to + 1; c.v > 1 && !c.article && w.is(c.to, kForWhom) && w.is(k, kMine, kGiven, kSubject) && (c.from == c.start || w.before(c.from, kJoin) > 0 || c.from == c.start+1 && w.toks[c.start].mark) {
		return c.from, c.to
	}
	if c.group && w.is(c.to, kOf) && w.counted(c.to+w.many(c.to, kOf), c.end) {
		return c.from, c.to
	}
	if n := w.many(c.to, kOften); n > 0 && !w.sign(c.to) && !w.is(c.to, kFolds, kLess) && w.within(c.start, c.from, kProduce, kMust, kWant) { // print it three times
		return c.from, c.to + n
	}
	return 0, 0
}

// from three to four
func (w *wisher) countChange(c *count) (from, to int) {
	if w.changed(c.from) && w.mood[c.from] == asked && w.stops(c.to, c) {
		return c.from, c.to
	}
	return 0, 0
}

// I need five, make three hooks, deux tasses et trois bols
func (w *wisher) countAsked(c *count) (from, to int) {
	lead, verb, some := w.askedBefore(c)
	if joined := w.before(c.from, kJoin); verb == 0 && joined > 0 && !c.article && w.countedBefore(c.from) { // and two small ones
		lead, verb = c.from, joined
	}
	if verb == 0 || w.is(c.to, kOf) && !w.toks[c.to].mark && !w.is(c.to, kPlease) {
		return 0, 0
	}
	if w.stops(c.to, c) && (!c.article || some) {
		return lead - verb, c.to
	}
	if w.stops(c.after, c) && c.v > 1 { // two small
		return c.from, c.after
	}
	if c.v > 1 && !c.article && w.counted(c.after, c.end) {
		return c.from, c.after + 1
	}
	return 0, 0
}

// countedBefore says whether a count was taken before, in the same sentence.
func (w *wisher) countedBefore(i int) bool {
	k := len(w.out) - 1
	return k >= 0 && w.out[k].Field == CopiesField && w.out[k].At >= w.toks[w.sentenceOf(i).from].from
}

// askedBefore finds the verb of asking that a number is the object of, and
// whether "en" stands between, as in "faites-en un".
func (w *wisher) askedBefore(c *count) (lead, verb int, some bool) {
	for lead = c.from; lead > c.start; {
		some = some || w.before(lead, kSome) > 0
		if verb = w.before(lead, kWant, kMust, kProduce); verb > 0 {
			return lead, verb, some || w.before(lead-verb, kSome) > 0
		}
		if some && w.toks[lead-1].glued && lead-1 > c.start { // mettez-en deux
			return lead, 2, true
		}
		if w.noun(lead-1, lead) && w.before(lead-1, kSome) > 0 { // j'en prendrai quatre
			return lead, 1, true
		}
		if w.noun(lead-1, lead) && w.before(lead-1, kWant) > 0 && w.counted(c.after, c.end) { // please prepare four boxes
			return lead, 1, some
		}
		n := w.before(lead, kJust, kGiven, kAll)
		if n == 0 {
			return lead, 0, some
		}
		lead = max(c.start, lead-n)
	}
	return lead, 0, some
}

// Three suffice; only two; a dozen, please; 4 hooks: a number that begins a
// clause without a verb, and says how many by itself or with its noun.
func (w *wisher) countAlone(c *count) (from, to int) {
	first := c.start
	if w.toks[first].mark {
		first++
	}
	lead := w.skip(first, c.from, kTurn, kJoin, kJust, kSo)
	if c.from != lead || c.article && c.v == 1 || w.is(c.to, kOf) && !w.toks[c.to].mark && !w.is(c.to, kPlease) {
		return 0, 0
	}
	if n := w.many(c.after, kPlease); n > 0 && (c.v > 1 || c.group || w.toks[c.from].digits) {
		return c.from, c.after + n
	}
	if !w.fragment(c) || w.toks[c.start].mark && w.toks[c.from].digits && c.to >= c.end && c.to < c.stop && w.toks[c.to].mark { // "(6)", "my son, 15, wants"
		return 0, 0
	}
	listed := w.toks[c.from].digits && c.from == w.sentenceOf(c.from).from && (c.to >= c.stop || w.toks[c.to].low == ")") // "1.", "2)"
	if w.stops(c.to, c) && !listed {
		return c.from, c.to
	}
	if w.stops(c.after, c) && c.after > c.to { // one large
		return c.from, c.after
	}
	if (c.v > 1 || w.toks[c.from].digits) && w.counted(c.after, c.end) {
		return c.from, c.after + 1
	}
	return 0, 0
}

// fragment says whether a count's clause has no verb, and stands in no sentence
// that tells something.
func (w *wisher) fragment(c *count) bool {
	for k := c.start; k < c.end; k++ {
		if w.is(k, kWant, kMust, kProduce, kState, kPast, kHaving, kHours, kTelling, kSubject, kDone) && !w.is(k, kPlease) {
			return false
		}
	}
	if w.is(c.start, kTurn, kSo) || w.is(c.start+1, kTurn, kSo) {
		return true
	}
	s := w.sentenceOf(c.from)
	from := s.from
	if k := c.start - 1; k > from && w.toks[k].low == ":" && !w.within(from, k, kHaving, kState, kPast) { // my order: three urns
		from = c.start
	}
	for k := max(from, c.start-80); k < c.start; k++ {
		if w.mood[k] != asked && w.mood[k] != bare {
			return false
		}
	}
	return !s.question
}

// stops says whether no noun follows that a number would count.
func (w *wisher) stops(i int, c *count) bool {
	return i >= c.end || w.toks[i].mark || w.is(i, kOther, kPlease, kTotal) || w.is(i, kMore) && !w.noun(i+1, c.end)
}

// counted says whether a noun stands at i, of things that may be copies.
func (w *wisher) counted(i, end int) bool {
	return w.noun(i, end) && !w.is(i, kUncopied, kUnitOther) && !w.is(i+1, kUncopied)
}

// subjectOf says whether what stands before i does something: "two of these
// are broken".
func (w *wisher) subjectOf(i, end int) bool {
	return i < end && w.is(i, kState, kPast, kHaving) && !w.is(i, kPlease, kWant, kMust)
}

// within says whether a word of these kinds stands from one token up to
// another.
func (w *wisher) within(from, to int, kinds ...kind) bool {
	for k := max(from, to-40); k < to; k++ {
		if w.is(k, kinds...) {
			return true
		}
	}
	return false
}

// polite says whether a sentence asks.
func (w *wisher) polite(i int) bool {
	s := w.sentenceOf(i)
	return w.within(s.from, min(s.to, s.from+40), kPlease)
}
