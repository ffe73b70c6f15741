package main

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"
)

// took is how long one page took.
type took struct {
	page string
	time time.Duration
}

// heard collects them from many visitors.
type heard struct {
	mu  sync.Mutex
	all []took
}

func (h *heard) hear(method, path string, _ int, t time.Duration) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.all = append(h.all, took{method + " " + pattern(path), t})
}

// take hands over what was heard so far.
func (h *heard) take() []took {
	h.mu.Lock()
	defer h.mu.Unlock()
	all := h.all
	h.all = nil
	return all
}

var id = regexp.MustCompile(`^[0-9a-f-]{36}$|^[A-Za-z0-9_-]{43}$`)

// pattern is a path without ids, keys and questions.
func pattern(path string) string {
	path, _, _ = strings.Cut(path, "?")
	parts := strings.Split(path, "/")
	for i, p := range parts {
		if id.MatchString(p) {
			parts[i] = "…"
		}
	}
	return strings.Join(parts, "/")
}

func row(name string, all []took) {
	if len(all) == 0 {
		return
	}
	slices.SortFunc(all, func(a, b took) int { return int(a.time - b.time) })
	at := func(share float64) float64 {
		i := min(int(share*float64(len(all))), len(all)-1)
		return float64(all[i].time.Microseconds()) / 1000
	}
	fmt.Printf("  %-34s %7d %6.0f %6.0f %6.0f %6.0f\n", name, len(all), at(0.5), at(0.95), at(0.99), at(1))
}

func sorted(m map[string][]took) []string { return slices.Sorted(maps.Keys(m)) }
