package mail

// How full the part is to be: "20 % infill", "filled at 30 %", "solid please".

// filled reads a share of filling that stands at tokens from up to to.
func (w *wisher) filled(from, to int, v float64) bool {
	start, end := w.clauseOf(from)
	a, b := from, to
	if n := w.many(to, kInfill, kSolid); n > 0 && to < end {
		b = to + n
	} else if n := w.many(to+1, kInfill); n > 0 && to+1 < end && w.noun(to, end) { // 30 % honeycomb infill
		b = to + 1 + n
	} else {
		k := w.back(from, start, kOf, kAt, kAbout, kBe, kArticle)
		if a = k - w.before(k, kInfill); a == k {
			return false
		}
	}
	if v <= 100 {
		w.add(InfillField, plain(v), "", a, b)
	}
	return true
}

// solid reads "solid please", "print it solid", "remplissage plein".
func (w *wisher) solid(i int) {
	n := w.many(i, kSolid)
	if n == 0 || !w.wished(i) {
		return
	}
	from, end := w.clauseOf(i)
	after := w.skip(i+n, end, kInfill)
	stands := after >= end || w.toks[after].mark || w.is(after, kPlease, kBeside, kJoin)
	leads := i == from || w.before(i, kWished, kInfill, kProduce) > 0 || w.before(w.back(i, from, kOf, kBe), kInfill, kWished) > 0
	if after > i+n || stands && leads {
		w.add(InfillField, "100", "", i, after)
	}
}
