package web

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platebook/desk"
)

// What is put into French is what the desk says, to the letter.
func TestFaultsInFrench(t *testing.T) {
	var source strings.Builder
	for _, pattern := range []string{"../*.go", "../store/*.go", "*.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") || name == "words_faults.go" {
				continue
			}
			b, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			source.Write(b)
		}
	}
	for said := range faultsInFrench {
		if !strings.Contains(source.String(), `"`+said+`"`) {
			t.Errorf("nothing says %q", said)
		}
	}
}

// A patron reads in French what turns them away, staff read it in English.
func TestTurnedAwayInFrench(t *testing.T) {
	const said = "This form was sent from another site, so nothing was done. Open the page here and send it again."
	for path, want := range map[string]string{"/ask": faultsInFrench[said], "/desk/shelf": said} {
		r := httptest.NewRequest(http.MethodPost, path, nil)
		r.Header.Set("Accept-Language", "fr-CA, en;q=0.5")
		if got := wordsOf(heard(r).Context()).said(said); got != want {
			t.Errorf("%s: %q", path, got)
		}
	}
	f := inWords(&desk.Fault{Kind: desk.TooMany, Say: said}, &french)
	if got := faultOf(f).Say; got != faultsInFrench[said] {
		t.Error(got)
	}
}
