package mail

// materials are taken where they are asked for; a sentence about a material
// asks for nothing.
func (w *wisher) materials() {
	for _, n := range w.named {
		if n.field == MaterialField && w.free(n.from, n.to) && w.madeOf(n) {
			w.add(MaterialField, n.value, "", n.from, n.to)
		}
	}
}

// madeOf says whether a material is what the print is to be of.
func (w *wisher) madeOf(n name) bool {
	start, end := w.clauseOf(n.from)
	is := w.back(n.from, start, kOf, kBe) // the material is PLA
	told := w.mood[n.from] == told && !w.denied[n.from] && is < n.from && w.before(is, kStuff) > 0
	follows := n.to < end
	switch {
	case !w.wished(n.from) && !told:
		return false
	case follows && w.is(n.to, kState, kPast, kAsking) && !w.is(n.to, kPlease):
		return false
	case w.sentenceOf(n.from).question && w.mood[n.from] == bare && follows && w.noun(n.to, end) && !w.isA(n.to, ColourField):
		return false // "le PLA résiste-t-il au soleil ?"
	case !n.weak:
		return true
	case follows && w.is(n.to, kAbout, kOnMatter) && !w.is(n.to, kIf):
		return false // "I can be flexible about the day"
	}
	// A word such as "flexible" also tells of parts: only where something is to
	// be so, or where it stands alone.
	alone := (n.from == start || n.from == start+1 && w.toks[start].mark) && w.is(n.to, kIf)
	return alone || w.polite(n.from) || w.before(n.from, kWished, kInColour, kStuff, kChoose) > 0
}
