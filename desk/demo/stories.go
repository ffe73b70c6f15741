package demo

import "platebook/desk"

// story is one request, as far as it has come. Times are in days before the
// day the demonstration is set on; steps between are spread over them.
type story struct {
	who, part, place string
	asked            float64 // when the request came in
	last             float64 // when the last step was taken
	end              stage

	copies  int     // 0 is as the part's patron has it
	size    float64 // of the longest side, mm
	largest bool
	colour  string
	purpose string
	note    string // instead of the part's own
	needed  int    // days from today; 0 is no date
	source  string // "page" unless said

	printer string // model the plan is made for, if not the usual one
	way     string // way agreed to, if not the one recommended
	fails   []failure
	write   string // what the patron writes after the last step
	reply   string // what staff write at the last step
	why     string // why it was declined, withdrawn, waived or corrected
	money   desk.ChargeKind
	keep    bool // the declined shape is remembered
	first   bool // told before the desk opens: quickly checked, and together of every kind
}

// failure is a run that went wrong.
type failure struct {
	why   string
	blame desk.Blame
	part  float64 // of the material, wasted
}

// stage is the last step of a story.
type stage int

const (
	received stage = iota
	inReview
	offered
	agreed
	started   // a run is going
	finished  // a run is to be weighed
	stuck     // attempts are used up
	shelved   // on the hold shelf
	called    // and told again
	collected // and paid
	declined
	withdrawn
	unanswered  // lapsed without an answer
	uncollected // lapsed on the shelf
)

const (
	minute = 1.0 / (24 * 60)
	hour   = 1.0 / 24
)

// stories are what came to the four branches in three months. Those long over
// have been forgotten by now, by the clock.
var stories = []story{
	// Just in.
	{who: "imani", part: "whale.stl", first: true, place: "Weirside", asked: 24 * minute, size: 120, colour: "dark blue", purpose: "a present for my daughter"},
	{who: "bartolo", part: "poem.stl", first: true, place: "Weirside", asked: 2 * hour, purpose: "a poem one can touch"},
	{who: "nils", part: "bird.stl", place: "Ropewalk", asked: 3 * hour, colour: "white"},
	{who: "casimir", part: "lamp-shade.stl", place: "Saltings", asked: 5 * hour, purpose: "a lamp with a small LED"},
	{who: "odile", part: "rose-sign.stl", place: "Weirside", asked: 17 * hour, colour: "red"},
	{who: "thandi", part: "herb-pot.stl", place: "Lanternhill", asked: 1.1, colour: "white", purpose: "basil on the window sill"},
	// Being looked at.
	{who: "rosalba", part: "shelf-hook.stl", first: true, place: "Weirside", asked: 2.2, last: 1.3, end: inReview,
		reply: "Your hook is under 3 mm long as the file has it. Did you draw it in inches? Then it would be 69 mm tall. Tell us, and we quote it at that size."},
	{who: "joss", part: "moon-and-star.stl", first: true, place: "Weirside", asked: 3.1, last: 2.2, end: inReview, colour: "cream",
		write: "I see that the star hangs in the air. May I send you a mended file tomorrow?"},
	{who: "mirela", part: "watch-tower.stl", place: "Weirside", asked: 1.9, last: 3 * hour, end: inReview, size: 130, note: "Thirteen centimetres tall, please: it stands behind the toy harbour.", printer: "millrace-300-twin"},
	{who: "kwame", part: "almshouse.3mf", place: "Ropewalk", asked: 1.5, last: 6 * hour, end: inReview, printer: "millrace-300-twin", purpose: "the model railway in the hall"},
	{who: "signy", part: "harbour.stl", place: "Weirside", asked: 1.2, last: 2 * hour, end: inReview, colour: "grey"},
	{who: "daud", part: "ladle-fork.stl", place: "Ropewalk", asked: 1.4, last: 4 * hour, end: inReview},
	// Waiting for their patrons.
	{who: "elspet", part: "twist-vase.stl", place: "Weirside", asked: 4.3, last: 2.2, end: offered, colour: "dark blue", purpose: "dried flowers"},
	{who: "gethin", part: "phone-stand.stl", place: "Ropewalk", asked: 13.4, last: 11.6, end: offered, colour: "grey"},
	{who: "hyacinth", part: "pen-cup.stl", place: "Weirside", asked: 3.6, last: 1.4, end: offered, colour: "green",
		write: "Bonjour, est-ce que le gobelet tiendrait debout s'il était imprimé à 70 mm de haut ?"},
	{who: "orrin", part: "corner-brace.stl", place: "Weirside", asked: 2.4, last: 20 * hour, end: offered, colour: "red", copies: 2, note: "My bookshelf leans. Two of these should keep it straight."},
	{who: "nils", part: "bookend.stl", first: true, place: "Ropewalk", asked: 2.8, last: 22 * hour, end: offered, colour: "grey"},
	// Agreed, to be printed.
	{who: "pernille", part: "clock-gear.stl", place: "Weirside", asked: 5.2, last: 1.6, end: agreed, colour: "cream", purpose: "the hall clock"},
	{who: "tobias", part: "coat-hook.stl", copies: 2, note: "Hooks for the children's corner, please in yellow. They carry coats, nothing heavier.", place: "Weirside", asked: 4.1, last: 18 * hour, end: agreed, colour: "yellow", needed: 9},
	{who: "anouk", part: "name-plate.3mf", first: true, place: "Weirside", asked: 4.8, last: 1.2, end: agreed, printer: "millrace-300-twin", purpose: "la porte de l'heure du conte"},
	{who: "saoirse", part: "draught.stl", copies: 6, note: "Six draughts for the garden table: the magpies took ours.", place: "Ropewalk", asked: 6.2, last: 2.1, end: agreed, colour: "white", needed: 5},
	{who: "lucian", part: "spinning-top.stl", place: "Saltings", asked: 3.3, last: 1.1, end: agreed, source: "desk", colour: "orange", printer: "fernhill-150"},
	// On the printers.
	{who: "yevka", part: "footbridge.stl", place: "Weirside", asked: 7.2, last: 55 * minute, end: started, colour: "red", purpose: "a school project", needed: 4},
	{who: "amadou", part: "shelf-label.stl", copies: 6, note: "A label holder for the shelf ends; half a dozen to begin with.", place: "Ropewalk", asked: 6.6, last: 50 * minute, end: started, colour: "grey"},
	{who: "birgit", part: "hose-adapter.stl", place: "Weirside", asked: 8.1, last: 20 * minute, end: started, colour: "green",
		fails: []failure{{"It came loose from the platform after half an hour.", desk.MachineBlame, 0.4}}},
	{who: "fenella", part: "soap-rest.stl", first: true, place: "Saltings", asked: 5.5, last: 35 * minute, end: started, colour: "orange", printer: "fernhill-150"},
	{who: "ishaan", part: "pulley.stl", place: "Weirside", asked: 6.1, last: 70 * minute, end: finished, colour: "green"},
	{who: "corwin", part: "ring-cone.stl", place: "Ropewalk", asked: 9.4, last: 1.2, end: stuck, colour: "white",
		fails: []failure{{"The nozzle blocked near the tip.", desk.MachineBlame, 0.7}, {"The tip is too thin to hold: it bent and was knocked over.", desk.DesignBlame, 0.9}}},
	// On the hold shelves.
	{who: "ludo", part: "drawer-knob.stl", place: "Weirside", asked: 8.8, last: 1.1, end: shelved, colour: "dark blue"},
	{who: "maren", part: "plant-marker.obj", first: true, place: "Lanternhill", asked: 12.5, last: 3.2, end: called, colour: "green"},
	{who: "zadie", part: "pawn.stl", place: "Ropewalk", asked: 19.5, last: 12.4, end: shelved, colour: "white", copies: 1, note: "We lost a pawn of the club's set."},
	{who: "ewart", part: "ammonite.stl", place: "Weirside", asked: 10.2, last: 2.3, end: shelved, colour: "cream", size: 90},
	{who: "odile", part: "wave-bangle.stl", place: "Saltings", asked: 9.1, last: 1.5, end: shelved, colour: "red"},
	// Over.
	{who: "noor", part: "cable-comb.stl", place: "Weirside", asked: 16.2, last: 6.2, end: collected, colour: "grey"},
	{who: "piers", part: "letter-die.stl", place: "Ropewalk", asked: 21.3, last: 9.4, end: collected, colour: "white", copies: 1},
	{who: "tilde", part: "counting-bead.stl", place: "Weirside", asked: 24.6, last: 11.2, end: collected, colour: "yellow", copies: 5, note: "Five beads to try; if they run well on the wire, fifteen more.",
		fails: []failure{{"The spool ran out in the night.", desk.PeopleBlame, 0.3}}},
	{who: "ottoline", part: "window-star.stl", first: true, place: "Lanternhill", asked: 27.2, last: 14.3, end: collected, colour: "cream"},
	{who: "rufus", part: "pea-trellis.stl", first: true, place: "Weirside", asked: 18.4, last: 7.1, end: collected, colour: "green",
		money: desk.Waiver, why: "It broke when the supports were taken off, and was glued."},
	{who: "amparo", part: "door-stop.stl", place: "Weirside", asked: 22.9, last: 8.2, end: collected, colour: "red",
		money: desk.Correction, why: "The brim was weighed with it."},
	{who: "leif", part: "house-key.stl", first: true, place: "Weirside", asked: 9.7, last: 8.4, end: declined,
		why: "We do not copy keys: we cannot know whose door they open. A locksmith can."},
	{who: "sunniva", part: "sling-frame.stl", place: "Ropewalk", asked: 15.1, last: 13.3, end: declined, keep: true,
		why: "A sling that shoots far is a weapon by our rules, and so is its frame."},
	{who: "obadiah", part: "soup-bowl.obj", place: "Weirside", asked: 6.9, last: 5.4, end: declined,
		why: "Prints are not fit for food: layers hold germs, and the material is not made for it. A bowl for keys or buttons we print gladly."},
	{who: "leif", part: "pastry-shape.stl", place: "Weirside", asked: 5.1, last: 3.4, end: declined,
		why: "It would touch food, which our prints must not."},
	{who: "imani", part: "hill-tile.stl", place: "Weirside", asked: 12.2, last: 10.1, end: withdrawn, largest: true, colour: "green", why: "The class went for paper after all."},
	{who: "gethin", part: "tiny-bird.stl", place: "Saltings", asked: 17.6, last: 16.1, end: withdrawn, why: "Too small, as you said."},
	{who: "casimir", part: "snow-crystal.stl", first: true, place: "Weirside", asked: 20.3, last: 18.2, end: unanswered, colour: "white"},
	{who: "ishaan", part: "key-tag.stl", first: true, place: "Weirside", asked: 29.4, last: 20.2, end: uncollected, colour: "red"},
	// Over for so long that they are forgotten.
	{who: "fenella", part: "inside-out-tray.stl", place: "Saltings", asked: 66, last: 52.2, end: collected, colour: "orange"},
	{who: "ludo", part: "key-tag.stl", first: true, place: "Weirside", asked: 61, last: 47.3, end: collected, colour: "dark blue"},
	{who: "mirela", part: "pea-trellis.stl", first: true, place: "Weirside", asked: 58, last: 44.2, end: collected, colour: "cream"},
	{who: "ottoline", part: "window-star.stl", first: true, place: "Lanternhill", asked: 55, last: 50.1, end: withdrawn, colour: "cream", why: "I found some in the attic."},
}
