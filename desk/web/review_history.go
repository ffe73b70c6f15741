package web

import (
	"encoding/json"
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"platebook/desk"
)

// historyLine is one line of the history, with what changed.
type historyLine struct {
	At      time.Time
	Who     string
	Say     string
	Changes []change
}

// change is one thing that was one way and became another.
type change struct{ What, Before, After string }

func historyOf(events []desk.Event, zone string) []historyLine {
	var all []historyLine
	for _, e := range events {
		all = append(all, historyLine{local(e.At, zone), e.Who, e.Say, unlike(e.Before, e.After)})
	}
	slices.Reverse(all)
	return all
}

// mostChanges bounds what one line of history unfolds to.
const mostChanges = 40

// unlike says what differs between before and after, each plain text or JSON.
// Of a long document only what differs is of interest to anyone.
func unlike(before, after string) []change {
	if before == "" && after == "" {
		return nil
	}
	a, b := map[string]string{}, map[string]string{}
	flatten(a, "", before)
	flatten(b, "", after)
	var keys []string
	for k := range a {
		keys = append(keys, k)
	}
	for k := range b {
		if _, ok := a[k]; !ok {
			keys = append(keys, k)
		}
	}
	sort.Strings(keys)
	var all []change
	for _, k := range keys {
		if a[k] == b[k] {
			continue
		}
		if len(all) == mostChanges {
			return append(all, change{"and more", "", ""})
		}
		all = append(all, change{k, cutText(a[k]), cutText(b[k])})
	}
	return all
}

// flatten takes JSON apart into its leaves, named by the way to them; what is
// no JSON object or list is one leaf.
func flatten(into map[string]string, at, text string) {
	if text == "" {
		return
	}
	if !strings.HasPrefix(text, "{") && !strings.HasPrefix(text, "[") {
		into[at] = strings.Trim(text, `"`)
		return
	}
	var v any
	dec := json.NewDecoder(strings.NewReader(text))
	dec.UseNumber()
	if dec.Decode(&v) != nil {
		into[at] = text
		return
	}
	leaves(into, at, v, 0)
}

func leaves(into map[string]string, at string, v any, depth int) {
	if depth > 12 || len(into) > 2000 {
		return
	}
	join := func(name string) string {
		name = strings.ReplaceAll(name, "_", " ")
		if at == "" {
			return name
		}
		return at + ", " + name
	}
	switch v := v.(type) {
	case map[string]any:
		for name, x := range v {
			leaves(into, join(name), x, depth+1)
		}
	case []any:
		for i, x := range v {
			leaves(into, join(fmt.Sprint(i+1)), x, depth+1)
		}
	case nil:
	case bool:
		into[at] = map[bool]string{true: "yes", false: "no"}[v]
	default:
		into[at] = fmt.Sprint(v)
	}
}

func cutText(s string) string {
	if r := []rune(s); len(r) > 300 {
		return string(r[:300]) + " …"
	}
	return s
}
