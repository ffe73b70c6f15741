package web

import (
	"maps"
	"net/http"
	"slices"
	"strings"

	"platebook/desk"
)

// overView is shown when a form of staff comes after their log-in is over:
// nothing was done, and nothing typed is lost. It is sent again from here, with
// its own once-only token, so that it counts once even if it was taken before.
type overView struct {
	Path  string
	Kept  []Fact // every field, as it came
	Typed []Fact // those a person may have typed, to be read or copied
}

var overPage = newPage[overView](forPatron, "over.html")

// over shows what came, or sends who brings nothing to keep to log in.
func (s *Site) over(w http.ResponseWriter, r *http.Request) error {
	if r.Method != http.MethodPost || byHTMX(r) || isUpload(r) {
		return s.toLogIn(w, r)
	}
	if _, err := formOf(r); err != nil {
		return s.toLogIn(w, r)
	}
	v := overView{Path: ours(r.URL.RequestURI())}
	if !strings.HasPrefix(v.Path, "/desk") || r.URL.Path == "/desk/me/password" {
		return s.toLogIn(w, r)
	}
	for _, name := range slices.Sorted(maps.Keys(r.PostForm)) {
		if strings.Contains(name, "password") {
			return s.toLogIn(w, r) // what is secret is not written back
		}
		for _, value := range r.PostForm[name] {
			v.Kept = append(v.Kept, Fact{name, value})
			if strings.ContainsAny(strings.TrimSpace(value), " \n") {
				v.Typed = append(v.Typed, Fact{name, value})
			}
		}
	}
	return show(s, w, r, statusOf(desk.NotYours), overPage, v)
}
