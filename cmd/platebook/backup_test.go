package main

import (
	"bytes"
	"errors"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platebook/desk"
	"platebook/desk/demo"
)

// furnish makes a desk with a manager and a request in a folder, and returns
// the path of its patron's page.
func furnish(t *testing.T, folder string) string {
	t.Helper()
	ctx := t.Context()
	r, err := house{Folder: folder}.open(ctx, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := r.close(ctx); err != nil {
			t.Error(err)
		}
	}()
	r.desk.SetUpWord = desk.NewWord()
	if _, err := r.desk.FirstManager(ctx, desk.FirstForm{Word: r.desk.SetUpWord, Library: "Tarnside Library", Address: "https://prints.tarnside.example", TimeZone: "UTC",
		Locale: "en-IE", Languages: []string{"en"}, Currency: "EUR", Branch: "Tarnside", Name: "ros", Called: "Ros Emberley", Password: "seven herons on one leg"}); err != nil {
		t.Fatal(err)
	}
	branches, err := r.desk.Branches(ctx)
	if err != nil {
		t.Fatal(err)
	}
	var file bytes.Buffer
	if err := demo.Parts()[0].Write(&file); err != nil {
		t.Fatal(err)
	}
	size := int64(file.Len())
	hash, _, err := r.desk.Shelves.Put(ctx, &file, size)
	if err != nil {
		t.Fatal(err)
	}
	got, err := r.desk.Submit(ctx, desk.Submission{Form: "one", Source: "page", Branch: branches[0].ID, Age: "over", Accept: true,
		Contact: desk.Contact{Name: "Imani Wrenfold", Email: "imani@post.example", Language: "en"}, Wish: desk.Wish{Copies: 1, Rights: true},
		Files: []desk.Upload{{Name: "knob.stl", Hash: hash, Size: size}}}, desk.APatron())
	if err != nil {
		t.Fatal(err)
	}
	return desk.PatronPath(got.Key)
}

func TestBackupOfAnOpenDeskIsRestored(t *testing.T) {
	dir := t.TempDir()
	folder, copied, file := filepath.Join(dir, "desk"), filepath.Join(dir, "copy"), filepath.Join(dir, "monday.zip")
	mine := furnish(t, folder)
	first := openDesk(t, serveCommand{house: house{Folder: folder}})

	var out, errs bytes.Buffer
	if code := run([]string{"backup", file, "--folder", folder}, &out, &errs); code != 0 || !strings.Contains(out.String(), "1 request,") {
		t.Fatalf("backup: exit %d\n%s%s", code, &out, &errs)
	}
	out.Reset()
	if code := run([]string{"restore", file, "--folder", copied}, &out, &errs); code != 0 || !strings.Contains(out.String(), "1 request,") {
		t.Fatalf("restore: exit %d\n%s%s", code, &out, &errs)
	}
	if !strings.Contains(out.String(), "--no-mail") || strings.Contains(out.String(), "the same") {
		t.Errorf("it says how to open it as %s", &out)
	}
	for _, c := range []struct {
		command restoreCommand
		want    string
	}{{restoreCommand{}, ""}, {restoreCommand{Database: "postgres://x"}, " and the same --database"}, {restoreCommand{Files: "file:///x"}, " and the same --files"},
		{restoreCommand{Database: "postgres://x", Files: "file:///x"}, " and the same --database and --files"}} {
		if got := c.command.also(); got != c.want {
			t.Errorf("beside the folder it names %q, want %q", got, c.want)
		}
	}
	second := openDesk(t, serveCommand{house: house{Folder: copied}, NoMail: true})
	for _, d := range []served{first, second} {
		v := newVisitor(d.at)
		if code, text := status(t, v, mine); code != http.StatusOK || !strings.Contains(text, "knob.stl") {
			t.Errorf("the patron's page at %s: %d\n%.500s", d.at, code, text)
		}
		if err := v.logIn(t.Context(), "ros", "seven herons on one leg"); err != nil {
			t.Errorf("at %s: %v", d.at, err)
		}
	}

	// One byte of the patrons' files wrong, and nothing is put anywhere.
	whole, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	whole[len(whole)/2] ^= 1
	damaged := filepath.Join(dir, "damaged.zip")
	if err := os.WriteFile(damaged, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	errs.Reset()
	if code := run([]string{"restore", damaged, "--folder", filepath.Join(dir, "never")}, &out, &errs); code == 0 || errs.Len() == 0 {
		t.Errorf("a damaged backup: exit %d\n%s", code, &errs)
	}
	if there, err := os.ReadDir(filepath.Join(dir, "never")); err == nil && len(there) > 0 || err != nil && !errors.Is(err, os.ErrNotExist) {
		t.Errorf("of a damaged backup something was put in place: %v, %v", there, err)
	}
	errs.Reset()
	if code := run([]string{"restore", file, "--folder", folder}, &out, &errs); code == 0 || errs.Len() == 0 {
		t.Errorf("restoring over a desk: exit %d\n%s", code, &errs)
	}
}
