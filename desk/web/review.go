package web

import (
	"errors"
	"net/http"
	"strings"

	"platebook/desk"
)

// reviewRoutes are the staff pages Today, the request and find.
func (s *Site) reviewRoutes() {
	s.staff("GET /desk", s.today)
	s.staff("GET /desk/find", s.find)
	const at = "/desk/r/{code}"
	s.staff("GET "+at, s.request)
	s.staff("GET "+at+"/ways", s.requestWays)
	s.staff("GET "+at+"/file/{id}", s.requestFile)
	s.staff("GET "+at+"/file/{id}/{what}", s.requestBlob)
	s.staff("GET "+at+"/way/{id}/still", s.requestWayStill)
	s.staff("GET "+at+"/side-by-side", s.requestSideBySide)
	for what, do := range map[string]func(*acting) error{
		"take": actTake, "plan": actPlan, "judge": actJudge, "offer": actOffer, "take-back": actTakeBack, "decline": actDecline,
		"write": actWrite, "aside": actAside, "contact": actContact, "move": actMove, "agree": actAgree, "check": actCheck, "again": actPostAgain, "write-again": actWriteAgain,
	} {
		s.staff("POST "+at+"/"+what, func(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
			return s.act(w, r, who, do)
		})
	}
}

// acting is a form of the request's page that was sent, and what comes of it.
type acting struct {
	s    *Site
	r    *http.Request
	who  desk.Actor
	v    desk.RequestView // as it is now, read before the form does anything
	form string           // once-only token
	seen int64            // version the person saw
	say  string           // once it is done
	at   string           // anchor to go on at
	keep func(*requestView)
	// show has the page shown again without anything done: a draft was asked for.
	show bool
}

// text is a field as it was sent.
func (a *acting) text(name string) string { return a.r.PostFormValue(name) }

// act does what a form asks, and goes on to the page. What cannot be done shows
// the page again, with everything typed still in the form and what others did
// meanwhile above it.
func (s *Site) act(w http.ResponseWriter, r *http.Request, who desk.Actor, do func(*acting) error) error {
	code, err := codeOf(r)
	if err != nil {
		return err
	}
	v, err := s.desk.LookByCode(r.Context(), who, code)
	if err != nil {
		return err
	}
	a := &acting{s: s, r: r, who: who, v: v, keep: func(*requestView) {}}
	if a.form, err = formOf(r); err == nil {
		if a.seen, err = seenVersion(r); err == nil {
			err = do(a)
		}
	}
	if err == nil && !a.show {
		if a.say != "" {
			s.say(r, a.say)
		}
		path := requestPath(code)
		if now, err := s.desk.LookByCode(r.Context(), who, code); err != nil || !now.Request.Forgotten.IsZero() {
			path = "/desk" // handed on to a branch this account does not reach
		}
		return s.goTo(w, r, path+a.at)
	}
	var f *desk.Fault
	if err != nil && (!errors.As(err, &f) || f.Kind == desk.Broken || f.Kind == desk.NotFound || f.Kind == desk.NotYours) {
		return err
	}
	if a.v, err = s.desk.LookByCode(r.Context(), who, code); err != nil {
		return err
	}
	page := s.requestOf(a.v, who)
	a.keep(&page)
	status := http.StatusOK
	if f != nil {
		status = statusOf(f.Kind)
		page.refused(f, a.v.Settings.Library.TimeZone)
	}
	return show(s, w, r, status, requestPage, page)
}

// refused puts what a Fault says at the fields of the form it was sent from.
func (v *requestView) refused(f *desk.Fault, zone string) {
	v.Title, v.Refused, v.Since = titleOf(f.Kind, &english), f.Say, told(f.Since, zone)
	fields, place := v.formFields(v.Open), v.place
	if place == nil {
		place = func(field string) string { return v.Open + "-" + field }
	}
	for name, say := range f.Fields {
		for _, at := range fields {
			if at.Name == place(name) {
				at.Error = say
			}
		}
	}
	for _, at := range fields {
		v.Errors = append(v.Errors, missed(*at)...)
	}
}

func (s *Site) request(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, err := s.look(r, who)
	if err != nil {
		return err
	}
	page := s.requestOf(v, who)
	if kind := desk.TextKind(r.FormValue("text")); kind != "" && page.Write != nil {
		page.Write.draft(v, kind)
	}
	return show(s, w, r, http.StatusOK, requestPage, page)
}

func (s *Site) look(r *http.Request, who desk.Actor) (desk.RequestView, error) {
	code, err := codeOf(r)
	if err != nil {
		return desk.RequestView{}, err
	}
	return s.desk.LookByCode(r.Context(), who, code)
}

func codeOf(r *http.Request) (desk.Code, error) {
	code, ok := desk.SpokenCode(r.PathValue("code"))
	if !ok {
		return "", desk.Faultf(desk.NotFound, "That is no code of a request. It should look like K7-204.")
	}
	return code, nil
}

// requestWays is the ways alone, as htmx asks for them while they are found.
func (s *Site) requestWays(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, err := s.look(r, who)
	if err != nil {
		return err
	}
	if !byHTMX(r) {
		return s.goTo(w, r, requestPath(v.Request.Code)+"#ways")
	}
	return part(s, w, r, http.StatusOK, requestPage, "ways", s.requestOf(v, who))
}

// requestFile is one file, as htmx asks for it while it is checked.
func (s *Site) requestFile(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, err := s.look(r, who)
	if err != nil {
		return err
	}
	page, id := s.requestOf(v, who), r.PathValue("id")
	for _, f := range page.Files {
		if f.ID != id {
			continue
		}
		if !byHTMX(r) {
			return s.goTo(w, r, page.Path+"#file-"+id)
		}
		page.Files = []deskFile{f}
		return part(s, w, r, http.StatusOK, requestPage, "files", page)
	}
	return desk.Faultf(desk.NotFound, "There is no such file with this request.")
}

// requestBlob gives a picture of a file, the bytes of its 3D view, or the file
// itself to keep: what people send is never shown by a browser as a page.
func (s *Site) requestBlob(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	code, err := codeOf(r)
	if err != nil {
		return err
	}
	f, err := s.desk.RequestFile(r.Context(), who, code, desk.ID(r.PathValue("id")))
	if err != nil {
		return err
	}
	what := r.PathValue("what")
	if what == "bytes" {
		w.Header().Set("Content-Disposition", `attachment; filename="`+asciiName(f.Name)+`"`)
		return s.serveBlob(w, r, f.Hash, "application/octet-stream")
	}
	if f.Result != nil {
		switch what {
		case "still":
			return s.serveBlob(w, r, f.Result.Still, "image/png")
		case "sheet":
			return s.serveBlob(w, r, f.Result.Sheet, "image/png")
		case "view":
			return s.serveBlob(w, r, f.Result.View, "application/octet-stream")
		}
	}
	return notFound()
}

// asciiName is a file's name as any header takes it (RFC 6266, appendix D).
func asciiName(name string) string {
	return strings.Map(func(c rune) rune {
		if c < ' ' || c > '~' || strings.ContainsRune(`"\/%;`, c) {
			return '_'
		}
		return c
	}, name)
}

func (s *Site) requestWayStill(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	code, err := codeOf(r)
	if err != nil {
		return err
	}
	ways, _, err := s.desk.RequestPictures(r.Context(), who, code)
	if err != nil {
		return err
	}
	for _, x := range ways {
		if x.ID == r.PathValue("id") {
			return s.serveBlob(w, r, x.Still, "image/png")
		}
	}
	return notFound()
}

func (s *Site) requestSideBySide(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	code, err := codeOf(r)
	if err != nil {
		return err
	}
	_, h, err := s.desk.RequestPictures(r.Context(), who, code)
	if err != nil {
		return err
	}
	return s.serveBlob(w, r, h, "image/png")
}
