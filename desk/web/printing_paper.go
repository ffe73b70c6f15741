package web

import (
	"fmt"
	"math"
	"mime"
	"net/http"
	"net/url"
	"path"
	"strconv"
	"strings"
	"time"

	"platebook/desk"
)

type badView struct {
	Errors  []Missed
	Crossed *Crossed
	Code    desk.Code
	Which   string
	Action  string
	Version int64
	Why     Field
	Blame   Field
	Tell    Field
}

var badPage = newPage[badView](forStaff, "printing_bad.html")

func badPath(request desk.ID, plate int) string {
	return fmt.Sprintf("/desk/printing/bad/%s/%d", url.PathEscape(string(request)), plate)
}

// plateIn reads which plate an address is about.
func plateIn(r *http.Request) (desk.ID, int, error) {
	n, err := strconv.Atoi(r.PathValue("plate"))
	if err != nil {
		return "", 0, notFound()
	}
	return desk.ID(r.PathValue("request")), n, nil
}

func (s *Site) bad(r *http.Request, who desk.Actor) (badView, error) {
	id, plate, err := plateIn(r)
	if err != nil {
		return badView{}, err
	}
	slip, err := s.desk.WorkSlip(r.Context(), who, id, plate)
	if err != nil {
		return badView{}, err
	}
	return badView{Code: slip.Code, Which: which(slip.Plate, slip.Of), Action: badPath(id, plate), Version: slip.Version,
		Why:   Field{Name: "why", Label: "What is wrong with it", Hint: "As you would tell the patron: a layer came apart, it broke, ….", Rows: 2},
		Blame: Field{Name: "blame", Label: "Whose failure it was", Choices: blames},
		Tell:  Field{Name: "tell", Label: "Write to the patron that it is tried again", Value: "yes"}}, nil
}

func (s *Site) badAsk(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, err := s.bad(r, who)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, badPage, v)
}

// badDo has a plate that was weighed printed again.
func (s *Site) badDo(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	form, err := formOf(r)
	if err != nil {
		return err
	}
	version, err := seenVersion(r)
	if err != nil {
		return err
	}
	id, plate, err := plateIn(r)
	if err != nil {
		return err
	}
	f := failOf(r)
	f.Form = form
	if _, err = s.desk.Reprint(r.Context(), who, id, version, plate, f); err == nil {
		s.say(r, "It is to be printed again.")
		return s.goTo(w, r, "/desk/printing/start?plate="+url.QueryEscape(refOf(id, plate)))
	}
	fields, crossed, rest := s.refused(r, err)
	if rest != nil {
		return rest
	}
	v, err := s.bad(r, who)
	if err != nil {
		return err
	}
	v.Why.Value, v.Blame.Value, v.Tell.Value = f.Why, string(f.Blame), r.PostFormValue("tell")
	mark(fields, &v.Why, &v.Blame)
	v.Errors, v.Crossed = missed(v.Why, v.Blame), crossed
	status := http.StatusUnprocessableEntity
	if crossed != nil {
		status = http.StatusConflict
	}
	return show(s, w, r, status, badPage, v)
}

// workView is a work slip: what to key into the program a printer came with.
type workView struct {
	Library  string
	Code     desk.Code
	Which    string
	Facts    []Fact
	Settings []Fact
	Reels    []workReel
	Parts    []workPart
	Last     string
	Findings []string
	Cautions []string
}

type workReel struct{ Material, Takes, Heat string }

type workPart struct {
	Files []workFile
	Facts []Fact
}

type workFile struct{ Name, Path, Size, Colour string }

var workPage = newPage[workView](forPaper, "paper_work.html")

func (s *Site) workSlip(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	id, plate, err := plateIn(r)
	if err != nil {
		return err
	}
	slip, err := s.desk.WorkSlip(r.Context(), who, id, plate)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, workPage, workOf(slip))
}

func workOf(w desk.WorkSlip) workView {
	v := workView{Library: w.Library, Code: w.Code, Which: which(w.Plate, w.Of), Findings: w.Findings}
	v.Facts = []Fact{{"Printer model", w.Model}, {"Should take", lasting(w.Seconds)}}
	if w.Colour != "" {
		v.Facts = append(v.Facts, Fact{"Colour wished", w.Colour})
	}
	if at, err := time.Parse(time.DateOnly, w.Needed); err == nil {
		v.Facts = append(v.Facts, Fact{"Needed by", day(at)})
	}
	v.Facts = append(v.Facts, Fact{"Goes to", w.Branch})
	attempt := strconv.Itoa(w.Attempt)
	if w.Most > 0 {
		attempt += fmt.Sprintf(" of %d", w.Most)
	}
	v.Facts = append(v.Facts, Fact{"Attempt", attempt})
	if w.LastTime != nil {
		v.Last = strings.TrimRight(w.LastTime.Why, ".") + "."
	}
	v.Settings = factsOf(w.Settings)
	seen := map[string]bool{}
	for _, reel := range w.Reels {
		wr := workReel{Material: reel.Material, Takes: exactGrams(math.Round(reel.Grams*10) / 10)}
		if reel.Metres > 0 {
			wr.Takes += fmt.Sprintf(", %.1f m", reel.Metres)
		}
		if reel.NozzleC > 0 {
			wr.Heat = fmt.Sprintf("nozzle %.0f °C, platform %.0f °C", reel.NozzleC, reel.PlateC)
		}
		for _, c := range reel.Cautions {
			if !seen[c] {
				v.Cautions = append(v.Cautions, c)
				seen[c] = true
			}
		}
		v.Reels = append(v.Reels, wr)
	}
	for _, p := range w.Parts {
		v.Parts = append(v.Parts, workPartOf(p))
	}
	return v
}

func workPartOf(p desk.WorkPart) workPart {
	wp := workPart{}
	for i, f := range p.Files {
		wf := workFile{Name: f.Name, Path: "/desk/printing/files/" + url.PathEscape(string(f.ID)), Size: byteSize(f.Size)}
		if i > 0 {
			wf.Colour = fmt.Sprintf("colour part %d", i+1)
		}
		wp.Files = append(wp.Files, wf)
	}
	wp.Facts = []Fact{{"Copies", strconv.Itoa(p.Copies)}, {"Size as printed", exactSize(p.SizeMM)}}
	scale := p.Scale
	if scale == 0 {
		scale = 1
	}
	wp.Facts = append(wp.Facts, Fact{"Scale", strconv.FormatFloat(math.Round(scale*1e4)/1e2, 'f', -1, 64) + " % of the file"})
	if p.Unit != "" {
		wp.Facts = append(wp.Facts, Fact{"Read the file in", p.Unit})
	}
	pose := p.Pose
	switch {
	case p.AsSent:
		pose = "As it stands in the file."
	case pose == "":
		pose = "As it stands in the file."
	}
	wp.Facts = append(wp.Facts, Fact{"Which way up", pose})
	if math.Abs(p.SpinDeg) >= 0.5 {
		wp.Facts = append(wp.Facts, Fact{"Turned about the vertical", fmt.Sprintf("%.0f°", p.SpinDeg)})
	}
	wp.Facts = append(wp.Facts, factsOf(p.Keyed)...)
	return wp
}

// exactSize says three lengths to the tenth of a millimetre: they are held
// against what the program of the printer shows.
func exactSize(v [3]float64) string {
	say := func(x float64) string { return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64) }
	return say(v[0]) + " × " + say(v[1]) + " × " + say(v[2]) + " mm"
}

func factsOf(all []desk.Keyed) (facts []Fact) {
	for _, k := range all {
		facts = append(facts, Fact{k.Name, k.Value})
	}
	return facts
}

// printFile gives a patron's file to whoever prints it: as bytes to be kept,
// whatever is in it, and never as something a browser would show.
func (s *Site) printFile(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	f, b, err := s.desk.PrintFile(r.Context(), who, desk.ID(r.PathValue("file")))
	if err != nil {
		return err
	}
	defer b.Close()
	attachment(w, f.Name)
	http.ServeContent(w, r, "", time.Time{}, b)
	return nil
}

// attachment sets the headers of a file someone else made (RFC 6266). Names
// beyond ASCII go in the form of RFC 8187.
func attachment(w http.ResponseWriter, name string) {
	name = path.Base(strings.Map(func(c rune) rune {
		if c < ' ' || c == 0x7f {
			return -1
		}
		return c
	}, name))
	h := w.Header()
	h.Set("Content-Type", "application/octet-stream")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Content-Security-Policy", "sandbox; default-src 'none'")
	h.Set("Cache-Control", "private, no-store")
	d := mime.FormatMediaType("attachment", map[string]string{"filename": name})
	if d == "" {
		d = "attachment"
	}
	h.Set("Content-Disposition", d)
}
