package mail

import (
	"sort"
	"strconv"
	"strings"
)

// A language is its words, sorted by what they do in a letter. The rules know
// the kinds only. To add a language: fill such a table, put it among the
// languages, and give language.go its most common words.
//
// In a list, words and phrases are parted by commas. "*é" is any word that
// ends so, "*ly" an adverb. A phrase of some kinds means something else than its
// words, and hides them: "was wondering" is no past. What is written otherwise
// before a vowel ("au lieu d'") need not be listed again.
type language struct {
	code      string
	follows   bool   // colours stand behind their noun
	elided    string // "l', d'": words written before an apostrophe
	clitics   string // "'s, 'd": words written behind one
	points    string // "mr, approx": written with a point
	numbers   string // "two 2, a dozen 12"
	months    string // "march 3, mar 3"
	shares    string // "a quarter 4"
	days      string // "sunday 1"
	feasts    string // "christmas 12-25; good friday easter-2"
	colours   string // "red: red; gray: grey, gray": what spools may call it in English; "clear~" is also another word
	materials string // "flexible~: tpu"
	words     map[kind]string
}

type kind int

const (
	_ kind = iota
	// Who says what, and how.
	kWant       // begins something asked for: need, could you, please
	kNeed       // among these, the ones that tell a need: must, has to be ready
	kPlease     // makes what it stands by a wish
	kProduce    // to print, to make
	kPast       // tells what was
	kPastTime   // last week, ago
	kIf         // supposes
	kAux        // French ai, est: before a participle
	kUnmarked   // looks like a past and is none: it hides a "*ending"
	kParticiple // past behind one of these
	kDone       // a participle: printed, broken; past, unless something wanted is to be it
	kHaving     // have, has
	kState      // is, are, have: tells how things are
	kHours      // open, closed: of the library's hours
	kVisit      // come, pick up: what the patron does, not what is needed
	kAsking     // begins a question for knowledge: what, does
	kTurn       // but, so, now: what was said before no longer holds
	kJoin       // and, or
	kEither     // or, nor
	kLink       // which, that, because: a clause follows
	kSubject    // I, you, we
	// Denial.
	kNoThing // no, without, except: of what stands right behind
	kNoVerb  // don't, not: of the rest of the clause
	kYet     // looks like a denial and is none: don't mind
	// Small words.
	kArticle // a, an, the
	kMine    // my, your: belongs to somebody
	kAbout   // roughly
	kOf      // of, and its like
	kAt      // at, to: before a measure, of what is printed
	kBeside  // for, around, fits: what follows is another thing
	kOther   // any other small word: ends a noun phrase
	kBe      // be, is, should be
	kWished  // should be, make it: what follows is as the patron wants it
	kThese   // these, them, the same
	kJust    // only
	kMore    // more, further, identical
	kOnes    // one, ones, pieces: in place of a noun
	// Sizes.
	kUnitMM
	kUnitCM
	kUnitInch
	kUnitFoot
	kUnitOther // metres, kilograms, euros, weeks: not a size, not a count
	kTall
	kWide
	kDeep
	kLong
	kAcross
	kRound   // in diameter: the part's only where it is spoken of
	kFeature // hole, rod, thick: a measure beside it is not the part's
	kSized   // size, dimensions
	kPart    // it, the model, the file
	kDiffers // bigger, more, apart: a measure before it is a difference
	kThan    // instead of, from: a measure behind it is not wanted
	kLimit   // at most
	kTimes   // x, by: between measures
	kResize  // scale, enlarge
	kOriginal
	kHalf
	kDouble
	kTreble
	kBigger
	kSmaller
	kGrow   // enlarge: by so much
	kShrink // reduce
	kPercent
	kLargest
	kInfill
	kSolid // filled completely
	// Copies.
	kCopyWord
	kPieces // copies, where they are not what a thing comes in
	kQuantity
	kLabel    // number, card, page: a number behind it is a name
	kUncopied // nouns that are counted, and are no copies
	kEach     // of each
	kOfThese  // of the: a part of several
	kWithin   // in: "in 2 pieces"
	kGiven    // me, us: between wanting and a number
	kAll
	kSome // French en, before a number
	kThe
	// Colours, materials, branches, supports.
	kInColour  // in
	kColour    // the word colour
	kColours   // several
	kShade     // dark, bright
	kStuff     // filament, plastic
	kFine      // would be great
	kChoose    // prefer
	kLikes     // somebody likes, always does
	kGoodly    // adjectives before a noun
	kTitle     // Mrs
	kStreetEnd // street: after its name
	kStreetTop // rue: before its name
	kDwell     // live, work: what follows is where, not whereto
	kGoTo      // at, to, from: before a branch
	kThere     // at, of something asked for
	kCollect   // pick up, collect
	kBranch    // branch, library
	kSupport
	kSupports // several
	kSoluble
	kSnap     // breakaway
	kNeedless // needs: denied, no supports
	kWithIt   // with, add, needs
	// Dates.
	kDeadline // by, before
	kStrict   // before: a deadline even of coming by
	kAtLatest
	kHence     // in: before a number of days
	kDayBefore // before a day of the month alone
	kOnDay
	kMonthEnd  // the end of the month
	kNextAfter // prochain
	kNotAfter  // in, within: before a number of days
	kEvent     // birthday, fair
	kAway      // absent, since: of the patron's or the library's days
	kNext      // next, coming
	kEnding    // end of
	kDayWord
	kWeekWord
	kTomorrow
	kOrdinal // st, th
	// Letters.
	kFolds   // times the size
	kLess    // times smaller
	kAndHalf // and a half: after a number
	kMust    // a need that a question may ask about
	kOften   // times: as often
	kTwice
	kThen        // by then: the day named last
	kWeekOn      // a week on: before a weekday
	kWeekAfter   // week: behind a weekday
	kDayBeforeIt // before: behind a weekday
	kNow         // how something is as yet
	kThanThat    // French que
	kRather      // before what is compared
	kOnlyNot     // French ne: with que it denies nothing
	kTotal       // in all: behind a number
	kFrom        // before what is to change
	kPeople
	kPossible
	kFortnight
	kNeedy    // needed: behind supports
	kOnMatter // behind "flexible": of days, not of the print
	kFromNow  // behind a number of days
	kSetOf    // before a number: a set of six
	kRange    // between two numbers that leave open which
	kAlong    // with: before another colour
	kForWhom  // for: two for me
	kClock    // hours, between a deadline and its day
	kNone     // behind "supports:"
	kYes
	kScaleWord // before a bare factor
	kTag       // ends a statement as a question
	kIdiom     // holds a colour, and means none
	kNextWeek
	kAfterTomorrow
	kBefore   // before what is to happen on a day
	kUseless  // of supports
	kColoured // joined to a colour
	kLabels   // what stands before a colon or a stroke
	kEnclose  // says what is enclosed: tells nothing of how things are
	kToPrint
	kTelling // past, but of saying or seeing, not of printing
	kTold    // the same, behind somebody or have
	kReply   // an answer, not a print, is to come by a day
	kReady   // in a question: by a day
	kGreeting
	kClosing
	kPostscript
	kSentFrom
	kOfMonth  // behind a weekday: not one day
	kSo       // draws the sum: before a number
	kPhone    // tel: on somebody's card
	kHeadFrom // heads of a letter quoted below
	kHead
)

type phrase struct {
	words []string
	kinds []kind
}

// lexicon is a language made ready for looking up.
type lexicon struct {
	follows   bool
	code      string
	phrases   map[string][]phrase // by the first word
	ends      map[string][]kind
	numbers   map[string]int
	months    map[string]int
	days      map[string]int
	feasts    map[string]feast
	shares    map[string]int
	colours   map[string][]string // to English names
	materials map[string]string
	weak      map[string]bool // colours and materials that are also other words
}

var languages = []language{english, french}

var lexicons = func() (all []*lexicon) {
	for _, l := range languages {
		all = append(all, compile(l))
	}
	return all
}()

func compile(l language) *lexicon {
	x := &lexicon{code: l.code, follows: l.follows, phrases: map[string][]phrase{}, ends: map[string][]kind{}, numbers: valued(l.numbers), months: valued(l.months), days: valued(l.days), feasts: feastsOf(l.feasts), shares: valued(l.shares), colours: map[string][]string{}, materials: map[string]string{}, weak: map[string]bool{}}
	all := map[string][]kind{}
	var kinds []int
	for k := range l.words {
		kinds = append(kinds, int(k))
	}
	sort.Ints(kinds)
	for _, k := range kinds {
		for _, p := range strings.Split(l.words[kind(k)], ",") {
			p = strings.Join(strings.Fields(p), " ")
			switch {
			case p == "":
			case strings.HasPrefix(p, "*"):
				x.ends[p[1:]] = append(x.ends[p[1:]], kind(k))
			default:
				all[p] = append(all[p], kind(k))
			}
		}
	}
	for p, kinds := range all {
		if e := elision(p); l.elided != "" && e != "" && all[e] == nil {
			x.put(e, kinds)
		}
		x.put(p, kinds)
	}
	for _, row := range strings.Split(l.colours, ";") {
		word, names, _ := strings.Cut(row, ":")
		word = x.marked(word)
		for _, n := range strings.Split(names, ",") {
			x.colours[word] = append(x.colours[word], strings.TrimSpace(n))
		}
	}
	for _, row := range strings.Split(l.materials, ";") {
		if word, of, ok := strings.Cut(row, ":"); ok {
			x.materials[x.marked(word)] = strings.TrimSpace(of)
		}
	}
	return x
}

func (x *lexicon) put(entry string, kinds []kind) {
	words := wordsOf(entry)
	if len(words) == 0 {
		return
	}
	x.phrases[words[0]] = append(x.phrases[words[0]], phrase{words, kinds})
	if f := folded(words[0]); f != words[0] && len(words[0]) > 4 {
		x.phrases[f] = append(x.phrases[f], phrase{words, kinds})
	}
}

// elision is how an entry is written before a vowel: "au lieu d'".
func elision(entry string) string {
	for _, end := range []string{" de", " que"} {
		if strings.HasSuffix(entry, end) {
			return entry[:len(entry)-1] + "'"
		}
	}
	return ""
}

// wordsOf cuts an entry of a table as a letter is cut. What is written before
// an apostrophe ("d'") is a word although nothing follows it here.
func wordsOf(entry string) []string {
	var words []string
	for _, t := range tokens(entry) {
		if k := len(words) - 1; t.low == "'" && k >= 0 && elided[words[k]+"'"] {
			words[k] += "'"
			continue
		}
		words = append(words, t.low)
	}
	return words
}

// marked takes the "~" from a word, and keeps that it was there.
func (x *lexicon) marked(word string) string {
	word, weak := strings.CutSuffix(strings.TrimSpace(word), "~")
	x.weak[word] = x.weak[word] || weak
	return word
}

// valued reads "two 2, a dozen 12".
func valued(s string) map[string]int {
	out := map[string]int{}
	for _, row := range strings.Split(s, ",") {
		row = strings.TrimSpace(row)
		i := strings.LastIndexByte(row, ' ')
		if i < 0 {
			continue
		}
		n, _ := strconv.Atoi(row[i+1:])
		word := strings.ReplaceAll(row[:i], "-", " ")
		out[word] = n
		if f := folded(word); len(f) > 4 {
			out[f] = n
		}
	}
	return out
}

// same says whether a token is a word of a table, accents or not.
func (t token) same(word string) bool {
	return t.low == word || t.fold != "" && t.fold == folded(word)
}
