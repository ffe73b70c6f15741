package mail

// A colour's word is a wish only in a frame: "in red", "colour: red", "red
// PLA", "make it red", "a red box" of something asked for, "two red ones", "red
// on white", or alone between commas. Elsewhere it tells of things (a black
// hole, Mrs Black, the file is clear). Rejected: every colour of an asking
// sentence, since letters ask things of black holes.

// tint is a colour's word where it stands in a letter.
type tint struct {
	name
	start, end int  // of its clause
	from, to   int  // of its sentence
	lead       int  // before "dark", or before "a"
	closes     bool // no noun follows that the colour would tell of
	wished     bool
}

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
		if fits && n.value != "" && w.free(n.from, n.to) {
			w.add(ColourField, n.value, "", n.from, n.to)
		}
		last, lastFits = n, fits
	}
}

// listed says whether one colour follows another as in a list, or as what is
// on it or beside it: "red and blue", "blue on white", "rouge à pois blancs".
func (w *wisher) listed(a, b name) bool {
	if w.toks[a.to-1].sentence != w.toks[b.from].sentence || b.from-a.to > 4 {
		return false
	}
	nouns, along := 0, false
	for i := a.to; i < b.from; i++ {
		switch {
		case w.toks[i].low == "," || w.toks[i].low == "/" || w.is(i, kJoin, kShade, kInColour, kArticle, kStuff):
		case w.is(i, kAlong, kThere):
		case w.noun(i, b.from) && !w.is(i, kMine):
			nouns++
		default:
			return false
		}
		along = along || w.is(i, kAlong, kThere) && !w.is(i, kJoin)
	}
	return b.from > a.to && (nouns == 0 || nouns == 1 && along)
}

// closes says whether no noun follows that the colour would tell of.
func (w *wisher) closes(n name) bool {
	s := w.sentenceOf(n.from)
	to := w.skip(n.to, s.to, kShade)
	return to >= s.to || w.toks[to].mark || w.is(to, kFine, kStuff, kPlease, kJoin, kTurn, kLink, kOften, kSubject) || w.nameAt(to) != nil && w.nameAt(to).field != BranchField
}

// coloursPart says whether a colour is one the print is to have.
func (w *wisher) coloursPart(n name) bool {
	i := n.from
	if w.denied[i] || w.mood[i] != bare && w.mood[i] != asked && w.mood[i] != told || w.surname(n) {
		return false
	}
	s := w.sentenceOf(i)
	t := tint{name: n, from: s.from, to: s.to, closes: w.closes(n), wished: w.mood[i] != told}
	t.start, t.end = w.clauseOf(i)
	if t.lead = w.back(i, t.start, kShade); t.lead == i {
		t.lead = w.back(i, t.start, kArticle)
	}
	frames := colourFrames
	switch {
	case n.weak:
		frames = weakFrames
	case w.proper(n.from, n.to):
		frames = colourFrames[:sureFrames]
	}
	for _, frame := range frames {
		if frame(w, &t) {
			return true
		}
	}
	return false
}

// surname says whether a colour is somebody's name, or a street's.
func (w *wisher) surname(n name) bool {
	s, i := w.sentenceOf(n.from), n.from
	if w.is(n.to, kStreetEnd) && n.to < s.to && w.toks[n.to].capital || w.before(i, kTitle) > 0 && w.toks[i].capital {
		return true
	}
	if !w.proper(n.from, n.to) {
		return false
	}
	return n.to < s.to && w.toks[n.to].capital && w.nameAt(n.to) == nil || i-1 > s.from && w.toks[i-1].capital && w.nameAt(i-1) == nil
}

// The frames of a colour. The first ones hold also for a word with a capital;
// a word that has another meaning ("clear") wants the sure ones, or to stand
// alone.
var (
	colourFrames = []func(*wisher, *tint) bool{
		(*wisher).tintLabelled, (*wisher).tintIn, (*wisher).tintStuff, (*wisher).tintCounted,
		(*wisher).tintChosen, (*wisher).tintPart, (*wisher).tintAlone, (*wisher).tintObject,
	}
	weakFrames = []func(*wisher, *tint) bool{
		(*wisher).tintLabelled, (*wisher).tintIn, (*wisher).tintStuff, (*wisher).tintCounted,
		(*wisher).tintBare, (*wisher).tintObject, (*wisher).tintWished,
	}
)

const sureFrames = 4

// Colour: red
func (w *wisher) tintLabelled(t *tint) bool {
	k := w.back(t.name.from, t.from, kShade, kOf, kBe)
	c := w.before(k, kColour)
	return k > t.from && c > 0 && t.closes && !w.theirs(k-c, t.from)
}

// theirs says whether a thing belongs to somebody: "our team colours".
func (w *wisher) theirs(i, from int) bool {
	return w.before(i, kMine) > 0 && w.is(i, kColours) || i-1 > from && w.before(i-1, kMine) > 0 && !w.is(i-1, kLikes)
}

// in red
func (w *wisher) tintIn(t *tint) bool {
	i := t.name.from
	shade := i-1 > t.start && w.noun(i-1, i) && !w.toks[i-1].capital && w.before(i-1, kInColour) > 0 // in luminous green
	return t.wished && t.closes && (shade || w.before(t.lead, kInColour) > 0 || w.before(i, kInColour) > 0)
}

// red PLA; plastique rouge
func (w *wisher) tintStuff(t *tint) bool {
	stuff := func(k int) bool { return w.is(k, kStuff) || w.isA(k, MaterialField) }
	i, to := t.name.from, t.name.to
	if !t.wished {
		return false
	}
	return to < t.to && stuff(to) && w.toks[to].clause == w.toks[i].clause || t.closes && i > t.start && (stuff(t.lead-1) || stuff(i-1))
}

// 2 red; 2 x red; one set black
func (w *wisher) tintCounted(t *tint) bool {
	i := t.name.from
	if !t.closes || !t.wished {
		return false
	}
	if c, k := w.number(i - 1); k == 1 && (c > 1 || w.toks[i-1].digits || !w.is(i-1, kArticle)) {
		return true
	}
	if _, k := w.number(i - 2); k == 0 || i-2 < t.start || w.before(i-2, kThe, kMine) > 0 {
		return false
	}
	return w.sign(i-1) || w.is(i-1, kCopyWord, kPieces, kOnes)
}

// orange, s'il vous plaît; clear if you have it
func (w *wisher) tintBare(t *tint) bool {
	i, to := t.name.from, t.name.to
	first := w.back(i, t.start, kShade)
	if first == t.start+1 && w.toks[t.start].mark {
		first = t.start
	}
	if first != t.start || !t.closes || w.proper(i, to) {
		return false
	}
	return w.is(to, kPlease, kIf) || to+1 < t.to && w.toks[to].low == "," && w.is(to+1, kPlease)
}

// make it clear
func (w *wisher) tintWished(t *tint) bool {
	return t.wished && t.closes && w.before(t.name.from, kWished) > 0
}

// make it red, I'd like red, he likes green
func (w *wisher) tintChosen(t *tint) bool {
	i := t.name.from
	likes := w.before(t.lead, kLikes) > 0 || w.before(i, kLikes) > 0
	chosen := w.before(t.lead, kChoose, kWished, kWant, kMust) > 0 || w.before(i, kChoose, kWished, kWant, kMust) > 0
	return t.closes && (likes || t.wished && chosen)
}

// make the lid red and the box white
func (w *wisher) tintPart(t *tint) bool {
	j := t.name.from - 1
	if !t.wished || !t.closes || j <= t.start || !w.noun(j, t.end) || w.before(j, kThe, kMine) == 0 {
		return false
	}
	return w.before(j-1, kWant, kProduce, kMust) > 0 || w.before(j-1, kAlong) > 0 && w.colouredBefore(j+1)
}

// red please; red would be lovely; or between commas
func (w *wisher) tintAlone(t *tint) bool {
	kinds := []kind{kShade, kJoin, kArticle, kPlease, kTurn}
	first := w.back(t.name.from, t.start, kinds...)
	for steps := 0; steps < 20 && first > t.start && (w.isA(first-1, ColourField) || w.isA(first-1, MaterialField)); steps++ {
		first = w.back(first-1, t.start, kinds...)
	}
	if first == t.start+1 && w.toks[t.start].mark {
		first = t.start
	}
	return t.wished && t.closes && w.listCloses(t.name) && (first == t.start || w.toks[first-1].low == ":")
}

// listCloses says whether the list a colour stands in ends as closes has it.
func (w *wisher) listCloses(n name) bool {
	s := w.sentenceOf(n.from)
	k := n.to
	for range 20 {
		k = w.skip(k, s.to, kShade, kJoin)
		m := w.nameAt(k)
		if k >= s.to || m == nil || m.field != ColourField {
			break
		}
		n, k = *m, m.to
	}
	return w.closes(n)
}

// a red box, deux crochets rouges: of the thing asked for
func (w *wisher) tintObject(t *tint) bool {
	start := t.start
	head, ok := w.headOf(t)
	if !ok || !t.wished {
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
	if j := k - one; j > start && w.before(j, kAlong) > 0 && w.colouredBefore(t.name.from) { // black with white letters
		return true
	}
	if one == 0 && c == 0 {
		first := k == start || k == start+1 && w.toks[start].mark
		return first && (w.mood[t.name.from] == asked || w.polite(k) || w.colouredBefore(t.name.from))
	}
	return w.before(k, kThe) == 0 && w.objectOf(k-max(one, c), start, t.end)
}

// headOf is where the noun begins that a colour tells of, on the side of it
// that the language has it.
func (w *wisher) headOf(t *tint) (int, bool) {
	i := t.name.from
	after, ahead := false, false
	for _, x := range w.sentenceOf(i).lex {
		after, ahead = after || x.follows, ahead || !x.follows
	}
	if after && i > t.start && t.closes && w.noun(i-1, t.end) {
		head := i - 1
		if head > t.start && w.noun(head-1, t.end) && w.before(head, kMore) > 0 {
			head--
		}
		for head > t.start && w.toks[head].glued && !w.toks[head-1].mark { // abat-jour
			head--
		}
		return head, true
	}
	return i, ahead && w.noun(t.name.to, t.end)
}

// objectOf says whether what begins at k is what a verb of asking bears on, or
// begins its clause.
func (w *wisher) objectOf(k, start, end int) bool {
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
	return k <= start
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

// nameEnding is the name that ends before a token.
func (w *wisher) nameEnding(k int) *name {
	for j := k - 1; j >= 0 && j > k-4; j-- {
		if m := w.nameAt(j); m != nil && m.to == k {
			return m
		}
	}
	return nil
}
