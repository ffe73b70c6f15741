package mail

// A measure is a number and a unit of length, or two or three numbers and the
// unit of them all. A range ("8 to 10 cm") leaves open which, and is none.
type measure struct {
	from, to int
	mm       float64
}

// measureAt reads "60 mm", "2 1/2 inches", "an inch and a half", "60 x 40 x 20
// mm" (the longest).
func (w *wisher) measureAt(i int) (measure, bool) {
	v, n := w.number(i)
	if n == 0 && w.is(i, kArticle) { // an inch
		v, n = 1, 1
	}
	if n == 0 || w.used[i] || i > 0 && w.toks[i].glued && !w.toks[i-1].mark && !w.timesSign(i-1) {
		return measure{}, false
	}
	end := w.sentenceOf(i).to
	one := !w.toks[i].digits && v == 1 && w.before(i+n, kArticle) > 0 // "un pouce" is a thumb too
	if w.rangeEnds(i, n, end) {
		w.use(i-2, i+n)
		return measure{}, false
	}
	if k := w.many(i+n, kOf); k > 0 && n > 1 && w.unitOf(i+n+k, end) { // une dizaine de centimètres
		n += k
	}
	if u, k := w.unit(i+n, end); k > 0 {
		if h := w.many(i+n+k, kAndHalf); h > 0 { // an inch and a half
			return measure{i, i + n + k + h, (v + 0.5) * u}, true
		}
	}
	if one {
		return measure{}, false
	}
	return w.product(i, n, v, end)
}

// rangeEnds says whether a number with a unit is the end of a range: "8 to 10
// cm".
func (w *wisher) rangeEnds(i, n, end int) bool {
	return w.before(i, kRange) > 0 && i-2 >= w.sentenceOf(i).from && w.numberEnds(i-1) && w.unitOf(i+n, end)
}

// product reads one to three numbers with signs between and one unit or more.
func (w *wisher) product(i, n int, v float64, end int) (measure, bool) {
	most, count, at := v, 1, i+n
	unit, k := w.unit(at, end)
	at += k
	for count < 3 && at < end && w.timesSign(at) {
		v, n := w.number(at + 1)
		if n == 0 {
			break
		}
		u, k := w.unit(at+1+n, end)
		if k == 0 && unit > 0 { // "60 mm x 2"
			break
		} else if k > 0 {
			unit = u
		}
		most, count, at = max(most, v), count+1, at+1+n+k
	}
	if unit == 0 {
		if count > 1 { // "2 x 14" is neither a size nor a count
			w.use(i, at)
		}
		return measure{}, false
	}
	return measure{i, at, most * unit}, at >= end || !w.is(at, kUnitOther) || !w.toks[at].glued
}

func (w *wisher) timesSign(i int) bool { return w.is(i, kTimes) }

// unit reads a unit of length: mm in it, and its tokens.
func (w *wisher) unit(i, end int) (float64, int) {
	if i >= end {
		return 0, 0
	}
	t := w.toks[i]
	n := 0
	u := 0.0
	for _, c := range []struct {
		k  kind
		mm float64 // ISO 80000-3: the inch is 25.4 mm exactly, the foot 304.8
	}{{kUnitMM, 1}, {kUnitCM, 10}, {kUnitInch, 25.4}, {kUnitFoot, 304.8}} {
		if k := w.many(i, c.k); k > 0 {
			u, n = c.mm, k
		}
	}
	switch {
	case n == 0:
		return 0, 0
	case t.low == "\"" && !(t.glued && w.quotesBefore(i)%2 == 0):
		return 0, 0
	case t.low == "in":
		// "3 in red" is no size: the unit ends a clause, or a side is named.
		after := i + 1
		if !(after >= end || w.toks[after].mark || w.side(after) || w.timesSign(after) || w.is(after, kPlease)) {
			return 0, 0
		}
	}
	if i+n < end && w.toks[i+n].glued && (w.toks[i+n].low == "³" || w.toks[i+n].low == "²" || w.toks[i+n].low == "/") {
		return 0, 0
	}
	return u, n
}

func (w *wisher) quotesBefore(i int) int {
	n := 0
	for k := max(w.sentenceOf(i).from, i-200); k < i; k++ {
		if w.toks[k].low == "\"" {
			n++
		}
	}
	return n
}

var sides = []struct {
	kind kind
	name string
}{{kTall, "tall"}, {kDeep, "deep"}, {kWide, "wide"}, {kAcross, "wide"}, {kRound, ""}, {kLong, ""}}

// sideAt names the side told at a token.
func (w *wisher) sideAt(i int) (string, int) {
	for _, s := range sides {
		if n := w.many(i, s.kind); n > 0 {
			return s.name, n
		}
	}
	return "", 0
}

func (w *wisher) side(i int) bool { return w.is(i, kTall, kWide, kDeep, kLong, kAcross, kRound) }

// sideBefore names the side told right before a token.
func (w *wisher) sideBefore(k int) (string, bool) {
	for _, s := range sides {
		if w.before(k, s.kind) > 0 {
			return s.name, s.kind != kAcross && s.kind != kRound
		}
	}
	return "", false
}

// feature says whether a word names a feature. The first half of a compound
// ("door-mat") does not.
func (w *wisher) feature(i int) bool {
	n := w.many(i, kFeature)
	return n > 1 || n == 1 && !(i+1 < len(w.toks) && w.toks[i+1].glued && !w.toks[i+1].mark)
}

// noun says whether a word that is none of the small ones stands at i.
func (w *wisher) noun(i, end int) bool {
	if i >= end || w.toks[i].mark || w.toks[i].digits || w.toks[i].low == "\x00" || w.inside[i] {
		return false
	}
	return !w.is(i, kOther, kPlease, kArticle, kBe, kWant, kMust, kState, kPast)
}

// featureIn says whether the words that follow, up to the first small word,
// name a feature: "5 mm steel rod".
func (w *wisher) featureIn(i, end int) bool {
	if i < end && (w.is(i, kOf) || w.toks[i].low == "in" || w.toks[i].low == "en") && w.is(i+1, kFeature) {
		return !w.is(i+1, kSized)
	}
	for k := i; k < end && k < i+4; k++ {
		if w.feature(k) {
			return true
		}
		if !w.noun(k, end) {
			return false
		}
	}
	return false
}
