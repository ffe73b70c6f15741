package demo

import (
	"time"

	"platebook/desk"
)

// Password is that of every demonstration account. The demonstration listens
// to its own machine alone.
const Password = "a quiet reading room"

// place is a branch of Larkmere.
type place struct {
	name, where string
	hours       [7][]desk.Span
}

func span(from, to int) desk.Span { return desk.Span{From: from * 60, To: to * 60} }

// places are the four branches, the main one first.
var places = []place{
	{"Weirside", "1 Weir Lane, by the lock; the desk is on the first floor, to the left of the newspapers.", [7][]desk.Span{
		1: {span(9, 19)}, 2: {span(9, 19)}, 3: {span(9, 19)}, 4: {span(9, 20)}, 5: {span(9, 18)}, 6: {span(10, 17)}}},
	{"Ropewalk", "22 Ropewalk, in the long hall; ask at the counter.", [7][]desk.Span{
		2: {span(10, 18)}, 3: {span(10, 18)}, 4: {span(10, 18)}, 5: {span(10, 18)}, 6: {span(10, 13)}}},
	{"Saltings", "Saltings House, behind the swimming bath.", [7][]desk.Span{
		1: {span(13, 18)}, 3: {span(13, 18)}, 5: {span(13, 18)}, 6: {span(10, 14)}}},
	{"Lanternhill", "The old school on Lantern Hill, side door.", [7][]desk.Span{
		2: {span(10, 13), span(14, 17)}, 4: {span(10, 13), span(14, 17)}, 6: {span(10, 14)}}},
}

// closedDays are those every branch keeps, and one of the main branch's own a
// little after today.
func closedDays(today time.Time, main bool) []desk.ClosedDay {
	var days []desk.ClosedDay
	for y := today.Year(); y <= today.Year()+1; y++ {
		for _, d := range []struct {
			month time.Month
			day   int
			why   string
		}{{1, 1, "New Year"}, {12, 24, "Winter holidays"}, {12, 25, "Winter holidays"}, {12, 26, "Winter holidays"}} {
			on := time.Date(y, d.month, d.day, 12, 0, 0, 0, time.UTC)
			if on.After(today.AddDate(0, -2, 0)) {
				days = append(days, desk.ClosedDay{Date: on.Format(time.DateOnly), Why: d.why})
			}
		}
	}
	if main {
		days = append(days, desk.ClosedDay{Date: today.AddDate(0, 0, 12).Format(time.DateOnly), Why: "Stocktaking"})
	}
	return days
}

// machine is a printer on a table.
type machine struct{ name, place, model, out string }

var machines = []machine{
	{"Pike", "Weirside", "millrace-300-twin", ""},
	{"Perch", "Weirside", "millrace-200", ""},
	{"Tench", "Weirside", "millrace-200", ""},
	{"Heron", "Ropewalk", "millrace-200", ""},
	{"Wren", "Saltings", "fernhill-150", ""},
	{"Moth", "Lanternhill", "fernhill-150", "Waits for a new nozzle, ordered on Tuesday."},
}

// reel is a spool as it stands on the day the demonstration begins; left is
// what was on it before the requests below were printed.
type reel struct {
	name, place, material, colour, hex string
	full, left                         float64
	in                                 string // printer
}

var reels = []reel{
	{"PLA-01", "Weirside", "pla", "cream", "#EADFC4", 1000, 1000, "Pike"},
	{"PLA-02", "Weirside", "pla", "dark blue", "#2E3A48", 1000, 870, "Pike"},
	{"PVA-01", "Weirside", "pva", "natural", "#E9E4D6", 500, 410, ""},
	{"PLA-03", "Weirside", "pla", "red", "#A63A2E", 1000, 1000, "Perch"},
	{"PLA-04", "Weirside", "pla", "green", "#4C7A4F", 1000, 640, "Tench"},
	{"PLA-05", "Weirside", "pla", "yellow", "#D9A92B", 1000, 295, ""},
	{"PETG-01", "Weirside", "petg", "clear", "#DCE6E6", 1000, 1000, ""},
	{"PLA-06", "Ropewalk", "pla", "grey", "#8C8F91", 1000, 1000, "Heron"},
	{"PLA-07", "Ropewalk", "pla", "white", "#F4F2EC", 1000, 900, ""},
	{"PLA-08", "Ropewalk", "pla", "blue", "#3B6EA5", 1000, 130, ""},
	{"PLA-09", "Saltings", "pla", "orange", "#C8702A", 1000, 760, "Wren"},
	{"PLA-10", "Saltings", "pla", "black", "#2A2A2C", 1000, 1000, ""},
	{"PLA-11", "Lanternhill", "pla", "white", "#F4F2EC", 1000, 540, "Moth"},
	{"TPU-01", "Weirside", "tpu-95a", "black", "#2A2A2C", 500, 500, ""},
}

// Account is a demonstration log-in.
type Account struct {
	Name, Called string
	Does         string // in words, for whoever tries it
	grants       []grant
	home         string
	left         bool // works here no more
}

type grant struct {
	role  desk.Role
	place string // empty is everywhere
}

// Accounts are the staff of Larkmere; the first is the first manager.
func Accounts() []Account {
	return []Account{
		{Name: "hesper", Called: "Hesper Dunmallow", Does: "manager of all branches", grants: []grant{{desk.Manager, ""}}, home: "Weirside"},
		{Name: "oriel", Called: "Oriel Varrowby", Does: "manager of Weirside", grants: []grant{{desk.Manager, "Weirside"}}, home: "Weirside"},
		{Name: "tobin", Called: "Tobin Lindquell", Does: "reviewer of all branches", grants: []grant{{desk.Reviewer, ""}}, home: "Weirside"},
		{Name: "aya", Called: "Aya Pemberhythe", Does: "reviewer at Ropewalk and Saltings", grants: []grant{{desk.Reviewer, "Ropewalk"}, {desk.Reviewer, "Saltings"}}, home: "Ropewalk"},
		{Name: "jorun", Called: "Jorun Thistlewane", Does: "operator at Weirside", grants: []grant{{desk.Operator, "Weirside"}}, home: "Weirside"},
		{Name: "pip", Called: "Pip Ambersley-Roe", Does: "operator at Ropewalk and Saltings", grants: []grant{{desk.Operator, "Ropewalk"}, {desk.Operator, "Saltings"}}, home: "Ropewalk"},
		{Name: "linde", Called: "Linde Corriemarsh", Does: "reviewer and operator at Lanternhill", grants: []grant{{desk.Reviewer, "Lanternhill"}, {desk.Operator, "Lanternhill"}}, home: "Lanternhill"},
		{Name: "sefton", Called: "Sefton Quillane", Does: "left the service; may not log in", grants: []grant{{desk.Operator, "Weirside"}}, home: "Weirside", left: true},
	}
}
