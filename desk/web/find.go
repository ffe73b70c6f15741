package web

import (
	"net/http"

	"platebook/desk"
)

// findView is what a search found.
type findView struct {
	Query   string
	Asked   bool
	Found   []foundLine
	Over    bool // more than are listed
	Another Field
}

type foundLine struct {
	Path   string // empty for a request elsewhere
	Code   desk.Code
	State  desk.State
	Branch string
	Name   string
	About  string
}

var findPage = newPage[findView](forStaff, "staff_find.html")

// find looks for a request. A code, typed or scanned, that the person's account
// reaches leads straight to the request.
func (s *Site) find(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	q := r.FormValue("q")
	found, err := s.desk.Find(r.Context(), who, q)
	if err != nil {
		return err
	}
	if len(found) == 1 && found[0].Exact && !found[0].Elsewhere {
		return s.goTo(w, r, requestPath(found[0].Code))
	}
	return show(s, w, r, http.StatusOK, findPage, findOf(q, found))
}

func findOf(q string, found []desk.Found) findView {
	v := findView{Query: desk.CleanLine(q, 200), Over: len(found) >= desk.MostFound}
	v.Asked = v.Query != ""
	v.Another = Field{Name: "q", Label: "Look for", Hint: "A code in any spelling, a patron’s name or mail address, or a file’s name. A scanner types the code and goes straight there.",
		Value: v.Query, Type: "search", Width: "mid", Auto: "off"}
	for _, f := range found {
		l := foundLine{Code: f.Code, State: f.State, Branch: f.Branch, Name: f.Name, About: f.About}
		if !f.Elsewhere {
			l.Path = requestPath(f.Code)
		}
		v.Found = append(v.Found, l)
	}
	return v
}
