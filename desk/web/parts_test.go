package web

import (
	"html/template"
	"time"

	"platebook/desk"
)

// partsView shows every part and class of docs/hand.md on one page, so that
// they are looked at and checked even before a page uses them.
type partsView struct {
	Errors                                          []Missed
	Name, Mail, Size, Note, Colour, Kind, Says, Box Field
	File                                            Field
	States                                          []desk.State
	Facts                                           []Fact
	Told                                            []Told
	Code                                            desk.Code
}

const partsText = `{{define "title"}}Parts{{end}}
{{define "main"}}<h1>{{template "code" .Code}} Vase for the reading room {{with .States}}{{template "standing" (index . 2)}}{{end}}</h1>
<p class="lead">A first sentence that says what this page is for, a little larger than the rest.</p>
{{template "errors" .Errors}}
{{template "notice" "The quote was sent to the patron."}}
<div class="beside"><div>
<h2>A form</h2>
<form method="post" action="/nowhere">{{template "token"}}
{{template "text" .Name}}{{template "text" .Mail}}{{template "text" .Size}}{{template "area" .Note}}{{template "select" .Colour}}{{template "radios" .Kind}}{{template "checks" .Says}}{{template "check" .Box}}{{template "file" .File}}
<div class="acts"><button>Send</button> <button class="second">Keep for later</button> <button class="grave">Decline</button> <button class="plain">Never mind</button> <a class="button second" href="/nowhere">A link that acts</a></div>
</form>
</div><div>
<h2>Facts</h2>
{{template "facts" .Facts}}
<h2>States</h2>
<ul class="lines">{{range .States}}<li><a href="/nowhere">{{template "code" $.Code}}</a> <span class="rest">Vase for the reading room</span> <span class="end">{{template "standing" .}}</span></li>{{end}}</ul>
<div class="caution"><h2>Before you agree</h2><p>Printed parts are not for food, heat, loads or small children.</p></div>
<p class="working" role="status">Checking the file: walls</p>
{{template "nothing" "Nothing waits for you here."}}
</div></div>
<h2>Ways</h2>
<ul class="ways"><li class="way chosen"><h3>Sensible</h3><p class="price">£3.30</p><p>Strong enough for daily use.</p></li><li class="way"><h3>Cheaper</h3><p class="price">£2.10</p><p>Lighter inside; fine for show.</p></li><li class="way"><h3>Finer</h3><p class="price">£4.80</p><p>Smoother, and takes longer.</p></li></ul>
<h2>A register</h2>
<table class="stack"><caption>Spools</caption><thead><tr><th scope="col">Spool</th><th scope="col">Material</th><th scope="col" class="figure">Left</th></tr></thead>
<tbody><tr><th scope="row">PLA-07</th><td data-label="Material">PLA, red</td><td class="figure" data-label="Left">640 g</td></tr><tr><th scope="row">PLA-08</th><td data-label="Material">PLA, white</td><td class="figure" data-label="Left">55 g</td></tr></tbody>
<tfoot><tr><th scope="row">All</th><td></td><td class="figure" data-label="Left">695 g</td></tr></tfoot></table>
<h2>Findings</h2>
<ul class="lines"><li><span class="mark" data-severity="stop">1</span> <span class="rest">Walls of 0.3 mm</span></li><li><span class="mark" data-severity="ask">2</span> <span class="rest">Leans out</span></li><li><span class="mark" data-severity="note">3</span> <span class="rest">Flat top</span></li></ul>
<h2>Letters</h2>
<ol class="letters"><li><p class="from"><b>Patron</b>, 4 Mar 2026, 09:15</p><p>Could it be a little larger?</p></li><li class="ours"><p class="from"><b>Rowan</b>, 4 Mar 2026, 09:40</p><p>Yes, up to 180 mm.</p></li></ol>
<details><summary>What happened</summary>{{template "history" .Told}}</details>
<h2>The part</h2>
<div class="pictures"><figure><img src="/still.png" width="800" height="600" alt="The bowl from the front."><figcaption>From the front</figcaption></figure></div>
{{end}}`

func init() {
	t := template.Must(template.Must(base().Clone()).ParseFS(pages, "pages/layout/"+string(forStaff)))
	p := &page[partsView]{file: "parts.html", t: template.Must(t.Parse(partsText)), l: forStaff}
	var zero partsView
	registered = append(registered, anyPage{p.file, p.l, zero, func(f frame, v any) ([]byte, error) {
		f.Page = v.(partsView)
		return p.render(string(p.l), f)
	}})
	at := time.Date(2026, 3, 4, 9, 15, 0, 0, time.UTC)
	v := partsView{
		Code: "K7-204", States: desk.States(),
		Name:   Field{Name: "name", Label: "Your name", Auto: "name", Hint: "As on your library card.", Value: "Ada Ö. <script>"},
		Mail:   Field{Name: "mail", Label: "Mail address", Type: "email", Auto: "email", Error: "Write an address with an @ in it, so that we can reach you.", Value: "ada"},
		Size:   Field{Name: "size", Label: "Longest side", Unit: "mm", Width: "short", Mode: "decimal", Optional: true},
		Note:   Field{Name: "note", Label: "What is it for?", Hint: "A sentence helps us choose."},
		Colour: Field{Name: "colour", Label: "Colour", Value: "red", Choices: []Choice{{Value: "grey", Label: "Grey"}, {Value: "red", Label: "Red"}}},
		Kind: Field{Name: "kind", Label: "Who collects it?", Error: "Choose who collects it.", Choices: []Choice{
			{Value: "me", Label: "I do"}, {Value: "other", Label: "Someone else", Hint: "They need the code."}}},
		Says:  Field{Name: "says", Label: "Days that suit", Choices: []Choice{{Value: "mon", Label: "Monday", Chosen: true}, {Value: "tue", Label: "Tuesday"}}},
		Box:   Field{Name: "terms", Label: "I have read the terms and accept them", Hint: "They open above."},
		File:  Field{Name: "files", Label: "Model files", Hint: "STL, 3MF or OBJ, up to 100 MB each.", Accept: ".stl,.3mf,.obj", Several: true},
		Facts: []Fact{{"Branch", "Larkmere Central"}, {"Needed by", "Friday 20 March 2026"}, {"Colour", "Red"}},
		Told:  []Told{{At: at, Who: "patron", Say: "Asked for a print."}, {At: at.Add(time.Hour), Who: "Rowan", Say: "Took the request."}},
	}
	v.Errors = missed(v.Name, v.Mail, v.Kind)
	example(p, "all", v)
}
