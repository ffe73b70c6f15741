package web

import (
	"net/http"
	"net/url"
	"time"

	"platebook/desk"
	"platebook/engine/tariff"
)

// shelfRoutes are the hold shelf, slips, payments and receipts.
func (s *Site) shelfRoutes() {
	s.staff("GET /desk/shelf", s.shelf)
	s.staff("GET /desk/shelf/scan", s.scan)
	s.staff("GET /desk/shelf/{request}", s.held)
	s.staff("POST /desk/shelf/{request}/place", s.heldPlace)
	s.staff("POST /desk/shelf/{request}/call", s.heldCall)
	s.staff("POST /desk/shelf/{request}/collect", s.heldCollect)
	s.staff("POST /desk/shelf/{request}/lapse", s.heldLapse)
	s.staff("GET /desk/shelf/{request}/slip", s.slip)
	s.staff("GET /desk/shelf/{request}/barcode.svg", s.barcode)
	s.accountRoutes()
}

type shelfView struct {
	Errors   []Missed
	Branch   string
	BranchID desk.ID
	Choose   *Field
	Code     Field
	Ready    []readyLine
	Held     []heldLine
	More     int  // further ones on the shelf
	Over     bool // more may be ready
}

type readyLine struct {
	Path string
	Code desk.Code
	Name string
	From string
}

type heldLine struct {
	Path   string
	Code   desk.Code
	Name   string
	Place  string
	Called string
	Until  time.Time
	Over   bool
	Owed   string
}

var shelfPage = newPage[shelfView](forStaff, "shelf.html")

func heldPath(id desk.ID) string { return "/desk/shelf/" + url.PathEscape(string(id)) }

func codeField() Field {
	return Field{Name: "code", Label: "Scan a slip, or type a code", Hint: "Such as K7-204.", Width: "mid", Auto: "off", Focus: true}
}

func (s *Site) shelf(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	p, err := s.desk.ShelfPage(r.Context(), who, desk.ID(r.FormValue("branch")), r.FormValue("all") != "")
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, shelfPage, shelfOf(p))
}

func shelfOf(p desk.ShelfPage) shelfView {
	v := shelfView{Branch: p.Branch.Name, BranchID: p.Branch.ID, Choose: branchField(p.Branch, p.Branches), Code: codeField(), More: p.HeldMore, Over: p.Over}
	for _, ready := range p.Ready {
		v.Ready = append(v.Ready, readyLine{heldPath(ready.Request.ID), ready.Request.Code, ready.Name, ready.From})
	}
	for _, h := range p.Held {
		shelf := h.Request.Shelf
		l := heldLine{Path: heldPath(h.Request.ID), Code: h.Request.Code, Name: h.Name, Place: shelf.Place, Until: local(shelf.Until, p.Zone), Over: h.Over, Owed: h.Owed}
		if n := len(shelf.Called); n > 0 {
			l.Called = "called again " + timesWord(n) + ", last on " + local(shelf.Called[n-1], p.Zone).Format("2 January")
		}
		v.Held = append(v.Held, l)
	}
	return v
}

// scan leads from a code to its request.
func (s *Site) scan(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	text := r.FormValue("code")
	found, err := s.desk.Scanned(r.Context(), who, text)
	if err == nil {
		return s.goTo(w, r, heldPath(found.ID))
	}
	fault := faultOf(err)
	if fault.Fields["code"] == "" {
		return err
	}
	p, err := s.desk.ShelfPage(r.Context(), who, "", false)
	if err != nil {
		return err
	}
	v := shelfOf(p)
	v.Code.Value, v.Code.Error = text, fault.Fields["code"]
	if len([]rune(text)) > 60 {
		v.Code.Value = ""
	}
	v.Errors = missed(v.Code)
	return show(s, w, r, http.StatusUnprocessableEntity, shelfPage, v)
}

// heldView is one request at the shelf: to be put there, or handed over.
type heldView struct {
	Errors  []Missed
	Crossed *Crossed
	Path    string
	Code    desk.Code
	Name    string
	State   desk.State
	Version int64
	Look    string // address of the whole request
	Facts   []Fact
	Balance string
	Owes    bool
	Back    bool // the library owes the patron
	Places  bool // can be put on the shelf
	OnShelf bool
	Acts    bool
	Place   Field
	Pay     Field
	How     Field
	Unpaid  Field
	Call    Field
	Lapse   Field
	Over    bool
	Open    string
	Bad     []badLine
	Weighed []badLine
}

// badLine is a plate that can be said to be bad, or weighed anew.
type badLine struct{ Which, Path string }

var heldPage = newPage[heldView](forStaff, "shelf_request.html")

// waysToPay are those that are noted; the money itself goes its own way.
var waysToPay = []Choice{{Value: "cash", Label: "Cash"}, {Value: "card", Label: "Card"}, {Value: "library account", Label: "Library account"}}

func (s *Site) heldViewOf(r *http.Request, who desk.Actor) (heldView, error) {
	a, err := s.desk.Account(r.Context(), who, desk.ID(r.PathValue("request")))
	if err != nil {
		return heldView{}, err
	}
	return heldOf(a), nil
}

func heldOf(a desk.Account) heldView {
	q := a.Request
	v := heldView{Path: heldPath(q.ID), Code: q.Code, Name: desk.SlipName(q.Contact), State: q.State, Version: q.Version,
		Look: "/desk/r/" + url.PathEscape(string(q.Code)), Balance: a.Write(a.Balance), Owes: a.Balance.Cmp("0") > 0, Back: a.Balance.Cmp("0") < 0,
		Places: q.State == desk.Printing && a.Acts, OnShelf: q.State == desk.OnShelf, Acts: a.Acts}
	v.Facts = []Fact{{"Branch", a.Branch.Name}}
	if q.Shelf != nil && v.OnShelf {
		if q.Shelf.Place != "" {
			v.Facts = append(v.Facts, Fact{"It lies at", q.Shelf.Place})
		}
		until := day(local(q.Shelf.Until, a.Zone))
		if v.Over = a.Now.After(q.Shelf.Until); v.Over {
			until += ": over"
		}
		v.Facts = append(v.Facts, Fact{"Waits until", until})
		for _, at := range q.Shelf.Called {
			v.Facts = append(v.Facts, Fact{"Called again", moment(local(at, a.Zone))})
		}
	}
	v.Place = Field{Name: "place", Label: "Where it lies", Optional: true, Width: "mid", Hint: "Such as B3. It stands on the slip and in the message."}
	v.Pay = Field{Name: "pay", Label: "Paid now", Mode: "decimal", Width: "short", Unit: a.Currency, Value: string(a.Balance), Focus: true}
	v.How = Field{Name: "how", Label: "How", Choices: waysToPay, Value: "cash"}
	v.Unpaid = Field{Name: "unpaid", Label: "Why it is handed over with something owed", Optional: true, Rows: 2}
	v.Call = Field{Name: "how", Key: "call", Label: "How", Value: desk.ByMessage, Choices: []Choice{
		{Value: desk.ByMessage, Label: "By message", Hint: "That it is ready is written once more."}, {Value: "by telephone", Label: "By telephone"}, {Value: "in person", Label: "In person"}}}
	v.Lapse = Field{Name: "lapse-why", Label: "Why it is taken off the shelf", Rows: 2, Hint: "The patron is told."}
	if q.Agreement != nil && a.Acts && (v.OnShelf || v.Places) {
		for i := range q.Agreement.Way.Plates {
			v.Bad = append(v.Bad, badLine{which(i, len(q.Agreement.Way.Plates)), badPath(q.ID, i)})
			if i < len(a.Weighed) && a.Weighed[i] != "" {
				v.Weighed = append(v.Weighed, badLine{which(i, len(q.Agreement.Way.Plates)), "/desk/printing/runs/" + url.PathEscape(string(a.Weighed[i])) + "#anew"})
			}
		}
	}
	return v
}

func (s *Site) held(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, err := s.heldViewOf(r, who)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, heldPage, v)
}

// onHeld does something with a request at the shelf, and shows its page again
// with what was typed if that was not taken.
func (s *Site) onHeld(w http.ResponseWriter, r *http.Request, who desk.Actor, open, done, to string, do func(form string, id desk.ID, version int64) error) error {
	form, err := formOf(r)
	if err != nil {
		return err
	}
	version, err := seenVersion(r)
	if err != nil {
		return err
	}
	id := desk.ID(r.PathValue("request"))
	err = do(form, id, version)
	if err == nil {
		s.say(r, done)
		if to == "" {
			to = heldPath(id)
		}
		return s.goTo(w, r, to)
	}
	fields, crossed, rest := s.refused(r, err)
	if rest != nil {
		return rest
	}
	v, err := s.heldViewOf(r, who)
	if err != nil {
		return err
	}
	v.Open = open
	v.typed(r, fields)
	status := http.StatusUnprocessableEntity
	if crossed != nil {
		status, v.Crossed = http.StatusConflict, crossed
		if !v.OnShelf && !v.Places {
			for _, f := range v.of() {
				if say := r.PostFormValue(f.Name); say != "" {
					crossed.Typed = append(crossed.Typed, Fact{f.Label, say})
				}
			}
		}
	}
	return show(s, w, r, status, heldPage, v)
}

// of are the fields of the form that stands open.
func (v *heldView) of() []*Field {
	switch v.Open {
	case "place":
		return []*Field{&v.Place}
	case "call":
		return []*Field{&v.Call}
	case "lapse":
		return []*Field{&v.Lapse}
	}
	return []*Field{&v.Pay, &v.How, &v.Unpaid}
}

func (v *heldView) typed(r *http.Request, sentences map[string]string) {
	var all []Field
	for _, f := range v.of() {
		if r.PostForm.Has(f.Name) {
			f.Value = r.PostForm.Get(f.Name)
		}
		mark(sentences, f)
		all = append(all, *f)
	}
	v.Errors = missed(all...)
}

func (s *Site) heldPlace(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	return s.onHeld(w, r, who, "place", "On the shelf, and the patron is told. Print its slip.", "", func(form string, id desk.ID, version int64) error {
		_, err := s.desk.Shelve(r.Context(), who, id, version, r.PostFormValue("place"), form)
		return err
	})
}

func (s *Site) heldCall(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	return s.onHeld(w, r, who, "call", "Noted that the patron was called.", "", func(form string, id desk.ID, version int64) error {
		_, err := s.desk.CallPatron(r.Context(), who, id, version, r.PostFormValue("how"), form)
		return err
	})
}

func (s *Site) heldCollect(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	return s.onHeld(w, r, who, "collect", "Handed over.", "", func(form string, id desk.ID, version int64) error {
		f := desk.CollectForm{Form: form, Pay: tariff.Decimal(r.PostFormValue("pay")), How: r.PostFormValue("how"), Unpaid: r.PostFormValue("unpaid")}
		_, err := s.desk.Collect(r.Context(), who, id, version, f)
		return err
	})
}

func (s *Site) heldLapse(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	return s.onHeld(w, r, who, "lapse", "Taken off the shelf.", "/desk/shelf", func(form string, id desk.ID, version int64) error {
		_, err := s.desk.LapseNow(r.Context(), who, id, version, r.PostFormValue("lapse-why"), form)
		return err
	})
}

// slipView is the slip that lies with a print.
type slipView struct {
	Library string
	Branch  string
	Name    string
	Code    desk.Code
	Place   string
	Until   time.Time
	Bars    string // address of the barcode
	Things  int
}

var slipPage = newPage[slipView](forPaper, "paper_slip.html")

func (s *Site) slip(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	slip, err := s.desk.Slip(r.Context(), who, desk.ID(r.PathValue("request")))
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, slipPage, slipView{Library: slip.Library, Branch: slip.Branch, Name: slip.Name, Code: slip.Code, Place: slip.Place,
		Until: local(slip.Until, slip.Zone), Bars: heldPath(desk.ID(r.PathValue("request"))) + "/barcode.svg", Things: slip.Things})
}
