package mail

// branches are taken where the words say that somebody goes there or fetches
// something: their names are often words, streets or towns as well.
func (w *wisher) branches() {
	for _, n := range w.named {
		m := w.mood[n.from]
		if n.field != BranchField || w.denied[n.from] || m == gone || m == theirs || m == inquiry || !w.free(n.from, n.to) {
			continue
		}
		if s := w.sentenceOf(n.from); n.from > s.from && w.toks[n.from-1].digits { // 40 Mill Street
			continue
		}
		if w.visited(n) {
			w.add(BranchField, n.value, "", n.from, n.to)
		}
	}
}

// visited says whether a branch is where the print is to be fetched.
func (w *wisher) visited(n name) bool {
	start, end := w.clauseOf(n.from)
	s := w.sentenceOf(n.from)
	lead := w.back(n.from, s.from, kArticle, kOf)
	fetch := w.within(max(s.from, n.from-25), min(s.to, n.to+15), kCollect)
	if w.within(max(start, n.from-25), n.from, kDwell) || w.mood[n.from] == told && w.within(max(start, n.from-25), n.from, kEvent) { // I live at Harbour
		return false
	}
	goes := w.before(n.from, kGoTo, kCollect) > 0 || w.before(lead, kGoTo, kCollect) > 0
	last := n.to >= end
	switch {
	case w.is(n.to, kBranch) && !last, w.before(lead, kBranch) > 0, w.before(n.from, kBranch) > 0, w.labelled(n.from, s.from, kBranch, kCollect):
		return true
	case goes && fetch, fetch && last && w.before(n.from, kBe) > 0:
		return true
	case goes && w.back(n.from, start, kArticle, kGoTo, kOf, kPlease, kJoin) <= start+1 && (last || w.is(n.to, kPlease)): // to Harbour, please
		return true
	case w.back(n.from, start, kTurn, kJoin) == start && (w.is(n.to, kPlease) || fetch && w.is(n.to, kState, kPlease, kWished, kWant, kMust)): // Harbour is best
		return true
	}
	return w.before(n.from, kThere) > 0 && w.mood[n.from] == asked && (last || w.toks[n.to].mark || w.is(n.to, kOther, kPlease))
}

// labelled says whether "word:" stands before i.
func (w *wisher) labelled(i, from int, kinds ...kind) bool {
	return i-1 > from && (w.toks[i-1].low == ":" || w.toks[i-1].low == "=") && w.before(i-1, kinds...) > 0
}
