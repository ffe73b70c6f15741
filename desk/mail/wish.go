package mail

import (
	"fmt"
	"math"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Notion: plain rules, each a pattern and what it means. A letter is a wish in
// somebody's own words; a rule that fires shows the words it fired on, so that
// staff see at once whether it understood. Nothing is decided here, and where
// two rules disagree both are shown. Rejected: weighing likelihoods, since a
// reader cannot check them.

// Field names what a suggestion is for.
type Field string

const (
	SizeField     Field = "size"     // Value is mm of the longest side; Axis may say which side
	LargestField  Field = "largest"  // as big as it goes
	ScaleField    Field = "scale"    // Value is a factor
	ColourField   Field = "colour"   // Value is a colour in stock
	CopiesField   Field = "copies"   // Value is a number
	MaterialField Field = "material" // Value is a material's id
	SupportsField Field = "supports" // Value is "none", "breakaway" or "soluble"
	NeededField   Field = "needed"   // Value is a date, 2006-01-02
	BranchField   Field = "branch"   // Value is a branch's id
	InfillField   Field = "infill"   // Value is percent
)

// Suggestion is one thing a letter seems to ask for.
type Suggestion struct {
	Field Field  `json:"field"`
	Value string `json:"value"`
	Axis  string `json:"axis,omitempty"` // "tall", "wide" or "deep", for a size
	Words string `json:"words"`          // as they stand in the letter
	At    int    `json:"at"`             // where they begin, bytes
}

// Stock is what the library has, in the words patrons may use for it.
type Stock struct {
	Colours   []string          // as on the spools
	Materials map[string]string // name or id, in lower case → id
	Branches  map[string]string // name → id
	Today     time.Time         // branch-local
}

// Wishes picks out of free text what it seems to ask for, in the order of the
// text. English and French are understood.
func Wishes(text string, s Stock) []Suggestion {
	if len(text) > 1<<16 {
		text = strings.ToValidUTF8(text[:1<<16], "")
	}
	w := &wisher{text: text, stock: s}
	w.sizes()
	w.largest()
	w.scales()
	w.copies()
	w.named()
	w.supports()
	w.dates()
	sort.SliceStable(w.out, func(i, j int) bool { return w.out[i].At < w.out[j].At })
	var out []Suggestion
	seen := map[string]bool{}
	for _, g := range w.out {
		key := string(g.Field) + "\x00" + g.Value + "\x00" + g.Axis
		if !seen[key] && len(out) < 40 {
			seen[key] = true
			out = append(out, g)
		}
	}
	return out
}

type wisher struct {
	text  string
	stock Stock
	out   []Suggestion
	taken [][2]int // spans a rule has used, that no later one may use otherwise
}

func (w *wisher) add(f Field, value, axis string, from, to int) {
	w.out = append(w.out, Suggestion{Field: f, Value: value, Axis: axis, Words: strings.Join(strings.Fields(w.text[from:to]), " "), At: from})
	w.taken = append(w.taken, [2]int{from, to})
}

func (w *wisher) free(from, to int) bool {
	for _, t := range w.taken {
		if from < t[1] && t[0] < to {
			return false
		}
	}
	return true
}

// whole says whether text[from:to] stands alone as words.
func (w *wisher) whole(from, to int) bool {
	before, _ := utf8.DecodeLastRuneInString(w.text[:from])
	after, _ := utf8.DecodeRuneInString(w.text[to:])
	return !(unicode.IsLetter(before) || unicode.IsDigit(before)) && !(unicode.IsLetter(after) || unicode.IsDigit(after))
}

const number = `(\d{1,4}(?:[.,]\d{1,3})?)`

var sizeRule = regexp.MustCompile(`(?i)` + number + `\s*(?:-\s*)?(millimet(?:er|re)s?|millimètres?|mm|centimet(?:er|re)s?|centimètres?|cm|inch(?:es)?|in\.?|pouces?|["″”])(?:\s*[- ]?(?:in\s+)?(tall|high|height|hauteur|haut|de haut|wide|width|large|largeur|de large|across|long|length|longueur|de long|deep|depth|profondeur))?`)

// A size with several numbers: 60 x 40 x 20 mm.
var boxRule = regexp.MustCompile(`(?i)` + number + `\s*(?:mm|cm|in)?\s*[x×*]\s*` + number + `\s*(?:mm|cm|in)?(?:\s*[x×*]\s*` + number + `)?\s*(mm|cm|inch(?:es)?|in\b|pouces?)`)

func millimetres(num, unit string) (float64, bool) {
	v, err := strconv.ParseFloat(strings.Replace(num, ",", ".", 1), 64)
	if err != nil {
		return 0, false
	}
	u := strings.ToLower(unit)
	switch {
	case strings.HasPrefix(u, "mm") || strings.HasPrefix(u, "milli"):
	case strings.HasPrefix(u, "cm") || strings.HasPrefix(u, "centi"):
		v *= 10
	default:
		v *= 25.4 // ISO 31: the inch is 25.4 mm exactly
	}
	return v, v >= 1 && v <= 2000
}

func (w *wisher) sizes() {
	for _, m := range boxRule.FindAllStringSubmatchIndex(w.text, 20) {
		most := 0.0
		for _, g := range []int{2, 4, 6} {
			if m[g] < 0 {
				continue
			}
			if v, ok := millimetres(w.text[m[g]:m[g+1]], w.text[m[8]:m[9]]); ok {
				most = max(most, v)
			}
		}
		if most > 0 && w.whole(m[0], m[1]) {
			w.add(SizeField, plain(most), "", m[0], m[1])
		}
	}
	for _, m := range sizeRule.FindAllStringSubmatchIndex(w.text, 40) {
		unit := w.text[m[4]:m[5]]
		if !w.free(m[0], m[1]) {
			continue
		}
		// "3 in" of "3 in red" is no size, nor is a quotation mark after a number.
		if strings.EqualFold(unit, "in") && m[6] < 0 && !endsClause(w.text[m[1]:]) {
			continue
		}
		if before, _ := utf8.DecodeLastRuneInString(w.text[:m[0]]); unicode.IsLetter(before) || unicode.IsDigit(before) || strings.ContainsRune(".,-/", before) {
			continue
		}
		if after, _ := utf8.DecodeRuneInString(w.text[m[1]:]); unicode.IsLetter(after) || unicode.IsDigit(after) || after == '³' || after == '²' || after == '/' {
			continue
		}
		v, ok := millimetres(w.text[m[2]:m[3]], unit)
		if !ok {
			continue
		}
		axis := ""
		if m[6] >= 0 {
			axis = axisOf(w.text[m[6]:m[7]])
		} else if b := strings.ToLower(tail(w.text[:m[0]], 24)); axisBefore.MatchString(b) {
			axis = axisOf(axisBefore.FindStringSubmatch(b)[1])
		}
		// Layer heights and nozzles are told in mm too.
		if around := strings.ToLower(tail(w.text[:m[0]], 30) + " " + headOf(w.text[m[1]:], 20)); v < 3 && aboutLayers.MatchString(around) {
			continue
		}
		w.add(SizeField, plain(v), axis, m[0], m[1])
	}
}

var (
	aboutLayers = regexp.MustCompile(`layer|nozzle|resolution|couche|buse|wall|paroi|tolerance`)
	axisBefore  = regexp.MustCompile(`(height|width|length|depth|hauteur|largeur|longueur|profondeur)\s*(?:of|is|:|=|de|est)?\s*(?:about|around|environ|approximately)?\s*$`)
	clauseEnd   = regexp.MustCompile(`^\s*([.,;:!?)]|$|\n)`)
)

func endsClause(s string) bool { return clauseEnd.MatchString(s) }

func axisOf(s string) string {
	s = strings.ToLower(s)
	switch {
	case strings.Contains(s, "tall"), strings.Contains(s, "high"), strings.Contains(s, "height"), strings.Contains(s, "haut"):
		return "tall"
	case strings.Contains(s, "deep"), strings.Contains(s, "depth"), strings.Contains(s, "profond"):
		return "deep"
	case strings.Contains(s, "wid"), strings.Contains(s, "larg"), strings.Contains(s, "across"):
		return "wide"
	}
	return "" // long: the longest side
}

var largestRule = regexp.MustCompile(`(?i)\b(as (?:big|large) as (?:possible|you can|it (?:goes|gets|can be)|will fit|the printer (?:allows|can))|(?:the )?(?:biggest|largest) (?:possible|size|you can|that fits)|max(?:imum)? size|(?:le |aussi )?(?:plus )?grand que possible|la plus grande taille(?: possible)?|taille maximale|le plus grand possible)`)

func (w *wisher) largest() {
	for _, m := range largestRule.FindAllStringIndex(w.text, 5) {
		w.add(LargestField, "yes", "", m[0], m[1])
	}
}

var (
	percentSize = regexp.MustCompile(`(?i)(?:scal(?:e|ed|ing)|resize[d]?|print(?:ed)? (?:it )?at|à l'échelle|échelle)\s*(?:it |of |to |at |de |à )*` + number + `\s*%`)
	percentOf   = regexp.MustCompile(`(?i)` + number + `\s*%\s*(?:of (?:the |its )?(?:original|size|full)|scale|de la taille|size)`)
	timesSize   = regexp.MustCompile(`(?i)\b(half|twice|double|three times|moitié|deux fois|double de) (?:the |its |as )?(?:size|scale|big|large|taille|la taille|sa taille)`)
	infillRule  = regexp.MustCompile(`(?i)(?:` + number + `\s*%\s*(?:infill|filled|fill|density|de remplissage|remplissage)|(?:infill|remplissage|density)\s*(?:of|at|is|:|=|de|à)?\s*` + number + `\s*%)`)
)

func (w *wisher) scales() {
	for _, m := range infillRule.FindAllStringSubmatchIndex(w.text, 5) {
		g := 2
		if m[2] < 0 {
			g = 4
		}
		if v, err := strconv.ParseFloat(strings.Replace(w.text[m[g]:m[g+1]], ",", ".", 1), 64); err == nil && v <= 100 {
			w.add(InfillField, plain(v), "", m[0], m[1])
		}
	}
	for _, rule := range []*regexp.Regexp{percentSize, percentOf} {
		for _, m := range rule.FindAllStringSubmatchIndex(w.text, 5) {
			v, err := strconv.ParseFloat(strings.Replace(w.text[m[2]:m[3]], ",", ".", 1), 64)
			if err == nil && v >= 1 && v <= 2000 && w.free(m[0], m[1]) {
				w.add(ScaleField, plain(v/100), "", m[0], m[1])
			}
		}
	}
	for _, m := range timesSize.FindAllStringSubmatchIndex(w.text, 5) {
		f := map[string]string{"half": "0.5", "moitié": "0.5", "twice": "2", "double": "2", "double de": "2", "deux fois": "2", "three times": "3"}[strings.ToLower(w.text[m[2]:m[3]])]
		if f != "" {
			w.add(ScaleField, f, "", m[0], m[1])
		}
	}
}

var counts = map[string]int{
	"one": 1, "a single": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9, "ten": 10,
	"twelve": 12, "a dozen": 12, "a pair": 2, "a couple": 2, "both": 2,
	"un": 1, "une": 1, "deux": 2, "trois": 3, "quatre": 4, "cinq": 5, "sept": 7, "huit": 8, "neuf": 9, "dix": 10, "douze": 12, "une douzaine": 12, "une paire": 2,
}

const countWords = `\d{1,3}|one|a single|two|three|four|five|six|seven|eight|nine|ten|twelve|a dozen|a pair|a couple|une douzaine|une paire|une|un|deux|trois|quatre|cinq|sept|huit|neuf|dix|douze`

var (
	copiesRule = regexp.MustCompile(`(?i)\b(` + countWords + `)\s*(?:x\s*)?(?:more |identical |autres )?(?:copies|copy|exemplaires?|copie|pieces|pièces|sets|prints|of (?:these|them|those|this|each|it)|de chaque|de ceux-ci|of the (?:same|attached|enclosed))`)
	timesRule  = regexp.MustCompile(`(?i)(?:^|[\s(])(?:x\s?(\d{1,3})|(\d{1,3})\s?[x×])(?:[\s.,;:!?)]|$)`)
	wantRule   = regexp.MustCompile(`(?i)\b(?:need|want|like|print|make|please|veux|voudrais|aimerais|souhaite|imprimer|besoin (?:de|d'))\s+(?:me |us |to have |have |avoir |en avoir |d'en avoir |en )?(` + countWords + `)\s+(?:of|de|in|en|please|s'il|svp)\b`)
	qtyRule    = regexp.MustCompile(`(?i)\b(?:quantity|qty|copies|how many|quantité|nombre|exemplaires)\s*[:=]?\s*(\d{1,3})\b`)
)

func (w *wisher) copies() {
	add := func(m []int, groups ...int) {
		for _, g := range groups {
			if m[g] < 0 {
				continue
			}
			word := strings.ToLower(w.text[m[g]:m[g+1]])
			n, err := strconv.Atoi(word)
			if err != nil {
				n = counts[word]
			}
			if n >= 1 && n <= 500 && w.free(m[g], m[g+1]) {
				w.add(CopiesField, strconv.Itoa(n), "", m[0], m[1])
			}
		}
	}
	for _, r := range []*regexp.Regexp{copiesRule, wantRule, qtyRule} {
		for _, m := range r.FindAllStringSubmatchIndex(w.text, 10) {
			add(m, 2)
		}
	}
	for _, m := range timesRule.FindAllStringSubmatchIndex(w.text, 10) {
		from, to := m[0], m[1]
		for from < to && strings.ContainsRune(" \t\n(", rune(w.text[from])) {
			from++
		}
		m[0] = from
		add(m, 2, 4)
	}
}

// French words for the colours of spools, and other spellings (CUSTOM).
var colourWords = map[string][]string{
	"red": {"rouge", "rouges"}, "blue": {"bleu", "bleue", "bleus"}, "green": {"vert", "verte", "verts"}, "yellow": {"jaune", "jaunes"},
	"black": {"noir", "noire", "noirs"}, "white": {"blanc", "blanche", "blancs"}, "grey": {"gray", "gris", "grise"}, "gray": {"grey", "gris", "grise"},
	"orange": {"oranges"}, "purple": {"violet", "violette", "pourpre"}, "violet": {"purple", "violette"}, "pink": {"rose", "roses"}, "brown": {"marron", "brun", "brune"},
	"silver": {"argent", "argenté"}, "gold": {"golden", "or", "doré", "dorée"}, "clear": {"transparent", "transparente", "see-through", "natural"},
	"natural": {"clear", "naturel", "naturelle"}, "turquoise": {"teal"}, "teal": {"turquoise"},
}

func (w *wisher) named() {
	for _, c := range w.stock.Colours {
		names := append([]string{strings.ToLower(c)}, colourWords[strings.ToLower(c)]...)
		for _, n := range names {
			w.find(n, ColourField, c)
		}
	}
	for _, n := range sorted(w.stock.Materials) {
		w.find(n, MaterialField, w.stock.Materials[n])
	}
	for _, n := range sorted(w.stock.Branches) {
		w.find(n, BranchField, w.stock.Branches[n])
	}
}

// find looks for a name that stands alone, whatever its letter case.
func (w *wisher) find(name string, f Field, value string) {
	if utf8.RuneCountInString(name) < 2 {
		return
	}
	r := regexp.MustCompile(`(?i)` + regexp.QuoteMeta(name))
	for _, m := range r.FindAllStringIndex(w.text, 20) {
		if !w.whole(m[0], m[1]) || denied(w.text[:m[0]]) {
			continue
		}
		// A branch's name is often a word or another place's name: only where
		// the words say that it is somewhere to go to.
		if f == BranchField && !goTo.MatchString(tail(w.text[:m[0]], 24)) {
			continue
		}
		if name == "or" && !regexp.MustCompile(`(?i)(en|couleur|d['’])\s*$`).MatchString(tail(w.text[:m[0]], 12)) {
			continue // the French word for gold is an English word too
		}
		w.add(f, value, "", m[0], m[1])
		return
	}
}

var (
	denial = regexp.MustCompile(`(?i)(\b(not|no|except|anything but|pas|sauf|ni)|n't)( \S+){0,3}\s*$`)
	goTo   = regexp.MustCompile(`(?i)\b(at|in|to|from|by|near|for|branch|library|à|au|aux|chez|pour)( the| la| le| l['’])?\s*$`)
)

// denied looks for a denial within the few words before, of the same clause.
func denied(before string) bool {
	clause := tail(before, 40)
	if i := strings.LastIndexAny(clause, ".,;:!?\n"); i >= 0 {
		clause = clause[i+1:]
	}
	return denial.MatchString(clause)
}

var (
	noSupports   = regexp.MustCompile(`(?i)\b(no|without|don't need|doesn't need|do not need|sans|pas de)( any)? supports?\b`)
	soluble      = regexp.MustCompile(`(?i)\b(soluble|dissolv\w+|dissolvable|water[- ]soluble|solubles)( supports?)?\b`)
	withSupports = regexp.MustCompile(`(?i)\b(with|needs?|use|add|avec( des)?) supports?\b`)
)

func (w *wisher) supports() {
	for _, m := range noSupports.FindAllStringIndex(w.text, 2) {
		w.add(SupportsField, "none", "", m[0], m[1])
	}
	for _, m := range soluble.FindAllStringIndex(w.text, 2) {
		w.add(SupportsField, "soluble", "", m[0], m[1])
	}
	for _, m := range withSupports.FindAllStringIndex(w.text, 2) {
		if w.free(m[0], m[1]) && !denied(w.text[:m[0]]) {
			w.add(SupportsField, "breakaway", "", m[0], m[1])
		}
	}
}

func sorted(m map[string]string) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	// Longer names first: "Larkmere North" before "Larkmere".
	sort.Slice(out, func(i, j int) bool {
		if len(out[i]) != len(out[j]) {
			return len(out[i]) > len(out[j])
		}
		return out[i] < out[j]
	})
	return out
}

func plain(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }

func tail(s string, n int) string {
	if len(s) > n {
		s = s[len(s)-n:]
	}
	return strings.ToValidUTF8(s, "")
}

func headOf(s string, n int) string {
	if len(s) > n {
		s = s[:n]
	}
	return strings.ToValidUTF8(s, "")
}

// String is the suggestion in a few words, for lists.
func (g Suggestion) String() string {
	return fmt.Sprintf("%s %s (“%s”)", g.Field, g.Value, g.Words)
}
