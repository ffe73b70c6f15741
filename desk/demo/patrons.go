package demo

import "platebook/desk"

// patron is someone who never was. Mail addresses are of the domains RFC 2606
// keeps for examples; telephone numbers are from a range kept for drama.
type patron struct {
	name, mail, phone, card string
	french                  bool
	guardian                string // of a patron under the library's age
}

func (p patron) contact() desk.Contact {
	c := desk.Contact{Name: p.name, Email: p.mail + "@post.example", Phone: p.phone, Card: p.card, Language: "en"}
	if p.french {
		c.Language = "fr"
	}
	if p.guardian != "" {
		c.UnderAge, c.Guardian = true, p.guardian
	}
	return c
}

var patrons = map[string]patron{
	"imani":    {name: "Imani Wrenfold", mail: "imani.w", phone: "01632 960204", card: "L 20418"},
	"bartolo":  {name: "Bartolo Quennick", mail: "bq", card: "L 11730"},
	"nils":     {name: "Nils Amberlow", mail: "amberlow.family", guardian: "Petra Amberlow", card: "L 31022"},
	"odile":    {name: "Odile Marchefeuille", mail: "odile", french: true},
	"casimir":  {name: "Casimir Drayhope", mail: "casimir", phone: "01632 960377"},
	"thandi":   {name: "Thandi Applegarrow", mail: "t.applegarrow", card: "L 40991"},
	"rosalba":  {name: "Rosalba Tinderwick", mail: "rosalba"},
	"joss":     {name: "Joss Fenniman-Oak", mail: "joss.fo", phone: "01632 960861"},
	"mirela":   {name: "Mirela Starkwater", mail: "mirela", card: "L 20077"},
	"kwame":    {name: "Kwame Oldershore", mail: "kwame.oldershore"},
	"signy":    {name: "Signy Haverlock", mail: "signy"},
	"daud":     {name: "Daud Penmarrow", mail: "d.penmarrow", card: "L 18852"},
	"elspet":   {name: "Elspet Rookhouse", mail: "elspet", phone: "01632 960019"},
	"hyacinth": {name: "Hyacinth Velde", mail: "hyacinth", french: true},
	"orrin":    {name: "Orrin Sallowfield", mail: "orrin", card: "L 29910"},
	"pernille": {name: "Pernille Gristmill", mail: "pernille"},
	"tobias":   {name: "Tobias Undercliffe-Ray", mail: "tobias", phone: "01632 960455"},
	"anouk":    {name: "Anouk Brindlemoor", mail: "anouk", french: true, card: "L 33310"},
	"gethin":   {name: "Gethin Larchpole", mail: "gethin"},
	"saoirse":  {name: "Saoirse Wickenden", mail: "saoirse", card: "L 50123"},
	"lucian":   {name: "Lucian Farthingale", mail: "lucian.f"},
	"yevka":    {name: "Yevka Dunstable-Moth", mail: "yevka"},
	"amadou":   {name: "Amadou Kestrelby", mail: "amadou", phone: "01632 960532", card: "L 27741"},
	"birgit":   {name: "Birgit Oatenshaw", mail: "birgit"},
	"fenella":  {name: "Fenella Crake", mail: "fenella", card: "L 10008"},
	"ishaan":   {name: "Ishaan Millpond", mail: "millpond.house", guardian: "Anjali Millpond"},
	"corwin":   {name: "Corwin Peatling", mail: "corwin"},
	"ludo":     {name: "Ludo Skerrow", mail: "ludo", card: "L 45540"},
	"maren":    {name: "Maren Thrupton", mail: "maren.thrupton"},
	"zadie":    {name: "Zadie Lockwhistle", mail: "zadie", phone: "01632 960713"},
	"ewart":    {name: "Ewart Bramblecote", mail: "ewart"},
	"noor":     {name: "Noor Sedgewater", mail: "noor", card: "L 38215"},
	"piers":    {name: "Piers Ottermole", mail: "piers"},
	"tilde":    {name: "Tilde Marrowby", mail: "tilde"},
	"ottoline": {name: "Ottoline Hay", mail: "ottoline", card: "L 10931"},
	"rufus":    {name: "Rufus Gantry", mail: "rufus", phone: "01632 960290"},
	"amparo":   {name: "Amparo Windlestraw", mail: "amparo"},
	"leif":     {name: "Leif Corncockle", mail: "leif", card: "L 47123"},
	"sunniva":  {name: "Sunniva Tarnbeck", mail: "sunniva"},
	"obadiah":  {name: "Obadiah Quillfeather", mail: "obadiah"},
}
