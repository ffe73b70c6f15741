package mail

// A colour's word is a wish only in a frame: "in red", "colour: red", "red
// PLA", "make it red", "a red box" of something asked for, "two red ones", or
// alone between commas. Elsewhere it tells of things (a black hole, Mrs Black,
// the file is clear).
func (w *wisher) colours() {
	var last *name // the colour before, for lists: "red, white and blue"
	lastFits := false
	for k := range w.named {
		n := &w.named[k]
		if n.field != ColourField {
			continue
		}
		fits := w.coloursPart(*n)
		if !fits && last != nil && lastFits && w.listed(*last, *n) {
			fits = w.closes(*n) && !w.denied[n.from]
		}
		if fits && w.free(n.from, n.to) {
			w.add(ColourField, n.value, "", n.from, n.to)
		}
		last, lastFits = n, fits
	}
}

// listed says whether one colour follows another as in a list.
func (w *wisher) listed(a, b name) bool {
	if w.toks[a.to-1].sentence != w.toks[b.from].sentence || b.from-a.to > 4 {
		return false
	}
	for i := a.to; i < b.from; i++ {
		if !(w.toks[i].low == "," || w.toks[i].low == "/" || w.is(i, kJoin, kShade, kInColour, kArticle, kStuff)) {
			return false
		}
	}
	return b.from > a.to
}

// ends1 says whether no noun follows that the colour would tell of.
func (w *wisher) closes(n name) bool {
	s := w.sentenceOf(n.from)
	to := w.skip(n.to, s.to, kShade)
	return to >= s.to || w.toks[to].mark && !w.toks[to].glued || w.toks[to].mark || w.is(to, kFine, kStuff, kPlease, kJoin, kTurn, kLink) || w.nameAt(to) != nil && w.nameAt(to).field != BranchField
}

func (w *wisher) coloursPart(n name) bool {
	i := n.from
	if w.denied[i] {
		return false
	}
	switch w.mood[i] {
	case gone, theirs, inquiry, supposed:
		return false
	}
	s := w.sentenceOf(i)
	start, end := w.clauseOf(i)
	if w.toks[i].mute || w.is(n.to, kStreetEnd) && n.to < s.to && w.toks[n.to].capital || w.before(i, kTitle) > 0 && w.toks[i].capital {
		return false
	}
	proper := w.proper(n.from, n.to)
	if proper && n.to < s.to && w.toks[n.to].capital && w.nameAt(n.to) == nil {
		return false
	}
	if proper && i > s.from && w.toks[i-1].capital && w.nameAt(i-1) == nil && i-1 > s.from {
		return false
	}
	ends := w.closes(n)
	lead := w.back(i, start, kShade)
	if lead == i {
		lead = w.back(i, start, kArticle)
	}
	wished := w.mood[i] != told
	// Colour: red
	if k := w.back(i, s.from, kShade, kOf, kBe); k > s.from && w.before(k, kColour) > 0 && ends && !w.theirs(k-w.before(k, kColour), s.from) {
		return true
	}
	// in red; red PLA; plastique rouge
	stuff := func(k int) bool { return w.is(k, kStuff) || w.isA(k, MaterialField) }
	if wished && (w.before(lead, kInColour) > 0 || w.before(i, kInColour) > 0) && ends {
		return true
	}
	if wished && n.to < s.to && stuff(n.to) && w.toks[n.to].clause == w.toks[i].clause {
		return true
	}
	if wished && i > start && (stuff(lead-1) || stuff(i-1)) && ends {
		return true
	}
	if c, k := w.number(i - 1); k == 1 && ends && (c > 1 || w.toks[i-1].digits || !w.is(i-1, kArticle)) { // 2 red
		return true
	}
	if _, k := w.number(i - 2); k > 0 && w.sign(i-1) && ends && i-2 >= start { // 2 x red
		return true
	}
	if n.weak && ends && i == start && w.is(n.to, kPlease) && !proper { // orange, s'il vous plaît
		return true
	}
	if n.weak && ends && n.to < s.to && w.toks[n.to].mark && w.commaPlease(n.to) && w.back(i, start, kShade) == start {
		return true
	}
	if n.weak {
		return wished && w.object(n, start, end) || wished && w.before(i, kWished) > 0 && ends
	}
	if proper {
		return false
	}
	// make it red, I'd like red, he likes green
	if ends && (w.before(lead, kChoose, kLikes, kWished, kWant, kMust) > 0 || w.before(i, kChoose, kLikes, kWished, kWant, kMust) > 0) && (wished || w.before(lead, kLikes) > 0 || w.before(i, kLikes) > 0) {
		return true
	}
	if !wished {
		return false
	}
	// make the lid red and the box white
	if j := i - 1; ends && j > start && w.noun(j, end) && w.before(j, kThe, kMine) > 0 {
		if j--; w.before(j, kWant, kProduce, kMust) > 0 || w.before(j, kAlong) > 0 && w.colouredBefore(i) {
			return true
		}
	}
	// red please; red would be lovely; or between commas
	first := w.back(i, start, kShade, kJoin, kArticle, kPlease, kTurn)
	for steps := 0; steps < 20 && first > start && (w.isA(first-1, ColourField) || w.isA(first-1, MaterialField)); steps++ {
		first = w.back(first-1, start, kShade, kJoin, kArticle, kPlease, kTurn)
	}
	if first > start && first == start+1 && w.toks[start].mark {
		first = start
	}
	if ends && w.listCloses(n) && (first == start || w.toks[first-1].low == ":") {
		return true
	}
	return w.object(n, start, end)
}

// listCloses says whether the list a colour stands in ends as closes has it.
func (w *wisher) listCloses(n name) bool {
	s := w.sentenceOf(n.from)
	k := n.to
	for range 20 {
		k = w.skip(k, s.to, kShade, kJoin)
		m := w.nameAt(k)
		if k >= s.to || m == nil || m.field != ColourField {
			return w.closes(n)
		}
		n, k = *m, m.to
	}
	return w.closes(n)
}

// theirs says whether a thing belongs to somebody: "our team colours".
func (w *wisher) theirs(i, from int) bool {
	return w.before(i, kMine) > 0 && w.is(i, kColours) || i-1 > from && w.before(i-1, kMine) > 0 && !w.is(i-1, kLikes)
}

// colouredBefore says whether a colour was taken not far before, in the same
// sentence.
func (w *wisher) colouredBefore(i int) bool {
	for k := i - 1; k >= w.sentenceOf(i).from && k > i-9; k-- {
		if w.used[k] && w.isA(k, ColourField) {
			return true
		}
	}
	return false
}

// commaPlease says whether ", please" follows.
func (w *wisher) commaPlease(i int) bool {
	return w.toks[i].low == "," && w.is(i+1, kPlease)
}

// nameEnding is the name that ends before a token.
func (w *wisher) nameEnding(k int) *name {
	for j := k - 1; j >= 0 && j > k-4; j-- {
		if m := w.nameAt(j); m != nil && m.to == k {
			return m
		}
	}
	return nil
}

// object says whether the colour tells of the thing asked for: "a red box",
// "deux crochets rouges".
func (w *wisher) object(n name, start, end int) bool {
	after, ahead := false, false // of its noun, as the language has it
	for _, x := range w.sentenceOf(n.from).lex {
		after, ahead = after || x.follows, ahead || !x.follows
	}
	head := n.from
	behind := w.noun(n.to, end)
	before := n.from > start && w.noun(n.from-1, end) && w.closes(n)
	if before && after {
		head = n.from - 1
		if head > start && w.noun(head-1, end) && w.before(head, kMore) > 0 {
			head--
		}
	} else if !behind || !ahead {
		return false
	}
	k := w.back(head, start, kGoodly)
	if k > start && k == start+1 && w.is(start, kJoin) { // "and a white lid"
		start = k
	}
	c, one := 0, w.before(k, kArticle)
	if _, m := w.number(k - 1); m == 1 && k-1 >= start {
		c = 1
	}
	if j := k - one; j > start && w.before(j, kAlong) > 0 && w.colouredBefore(n.from) { // black with white letters
		return true
	}
	if one == 0 && c == 0 && (k == start || k == start+1 && w.toks[start].mark) && (w.polite(n.from) || w.colouredBefore(n.from)) && w.mood[n.from] != told {
		return true
	}
	if one == 0 && c == 0 || one > 0 && w.before(k, kThe) > 0 {
		return false
	}
	k -= max(one, c)
	for back := 0; k > start && back < 6; back++ {
		if w.before(k, kWant, kMust, kProduce) > 0 {
			return true
		}
		if m := w.nameEnding(k); m != nil && m.field == ColourField && w.used[k-1] {
			return true
		}
		if w.before(k, kBeside, kOf) > 0 && w.before(k, kJust) == 0 {
			return false
		}
		if w.noun(k-1, end) && w.before(k, kJust, kGiven) == 0 {
			return false
		}
		k -= max(1, w.before(k, kOther, kJust, kGiven))
	}
	return k <= start && w.mood[n.from] != told
}
