package mail

// Whether supports are wished, and which. One "support" may be a stand or a
// kindness: it counts with a denial or a verb right before it only. Rejected:
// "supports" in a question, which asks what they are.

// holding is the word for supports where it stands in a letter.
type holding struct {
	at, to        int // with "soluble" behind it
	start, end    int // of the clause
	lead          int // before its article and adjectives
	no, with      int // tokens of a denial, of "with", before lead
	several       bool
	soluble, snap bool
}

func (w *wisher) supports() {
	for i := range w.toks {
		n := w.many(i, kSupport)
		if n == 0 || w.used[i] || w.mood[i] == gone || w.mood[i] == theirs || w.mood[i] == inquiry || w.mood[i] == supposed {
			continue
		}
		h := w.holdingAt(i, n)
		if w.mood[i] == told && !w.needless(h.to, h.end) && h.no == 0 && !w.denied[i] {
			continue
		}
		if h.to+1 < h.end && (w.toks[h.to].low == ":" || w.toks[h.to].low == "=") {
			w.supportsLabelled(h)
		} else if value, from, ok := w.supportsValue(&h); ok {
			w.add(SupportsField, value, "", from, h.to)
		}
	}
}

func (w *wisher) holdingAt(i, n int) holding {
	h := holding{at: i, to: i + n, several: w.is(i, kSupports)}
	h.start, h.end = w.clauseOf(i)
	h.to += w.many(h.to, kSoluble)
	for k := max(h.start, i-2); k < min(w.sentenceOf(i).to, i+n+4); k++ { // supports that dissolve
		h.soluble, h.snap = h.soluble || w.is(k, kSoluble), h.snap || w.is(k, kSnap)
	}
	h.lead = w.back(i, h.start, kArticle, kMore, kSoluble, kSnap)
	leads := func(k int) bool { return w.before(k, kNoThing, kWithIt, kNeedless) > 0 }
	if !leads(h.lead) && leads(i) {
		h.lead = i
	}
	if !leads(h.lead) && h.lead-1 > h.start && h.several && w.noun(h.lead-1, h.end) { // with tree supports
		if k := w.back(h.lead-1, h.start, kArticle); w.before(k, kWithIt) > 0 {
			h.lead = k
		}
	}
	h.no, h.with = w.before(h.lead, kNoThing), w.before(h.lead, kWithIt)
	if k := w.back(h.lead, h.start, kForWhom, kAt); h.with == 0 && k < h.lead && w.before(k, kYes) > 0 { // yes to supports
		h.with = h.lead - k + w.before(k, kYes)
	}
	return h
}

// Supports: none
func (w *wisher) supportsLabelled(h holding) {
	for _, v := range []struct {
		k     kind
		value string
	}{{kNone, "none"}, {kSoluble, "soluble"}, {kYes, "breakaway"}, {kSnap, "breakaway"}} {
		if m := w.many(h.to+1, v.k); m > 0 && w.free(h.at, h.to+1+m) {
			w.add(SupportsField, v.value, "", h.at, h.to+1+m)
			return
		}
	}
}

// supportsValue judges them by what stands around, and tells where those words
// begin.
func (w *wisher) supportsValue(h *holding) (value string, from int, ok bool) {
	i := h.at
	alone := h.several || w.before(i, kArticle) == 0
	first := i == h.start || i == h.start+1 && (w.noun(h.start, h.end) || w.toks[h.start].mark) || i == h.start+2 && w.toks[h.start].mark
	fine := w.is(h.to, kPlease) || h.several && h.to+1 < h.end && w.noun(h.to, h.end) && w.is(h.to+1, kPlease) // tree supports ok
	switch {
	case w.is(h.to, kOf, kBeside) && !h.several && h.to < h.end && !w.is(h.to, kPlease), h.no > 0 && h.soluble:
		return "", 0, false
	case h.no > 0 && alone && (w.mood[i] != told || h.several):
		return "none", h.lead - h.no, true
	case w.denied[i]:
		n := w.before(h.lead, kNeedless)
		return "none", h.lead - n, n > 0 && h.several
	case h.several && w.needless(h.to, h.end):
		return "none", i, true
	case h.soluble:
		return "soluble", h.lead, h.several || h.with > 0 || w.polite(i)
	case (h.with > 0 || fine && first) && alone && w.wished(i):
		return "breakaway", h.lead - h.with, true
	}
	return "breakaway", h.lead, h.snap && h.several && w.wished(i)
}

// needless says whether supports are "not needed".
func (w *wisher) needless(i, end int) bool {
	for k := i; k < end && k < i+5; k++ {
		if w.is(k, kNeedy) && w.denied[k] || w.is(k, kUseless) {
			return true
		}
	}
	return false
}
