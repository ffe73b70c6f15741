// Package storetest holds a store to what package desk asks of one: one suite
// for every database.
package storetest

import (
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"platebook/desk"
)

// Run runs the suite; open gives a fresh, empty store each time, whose jobs go
// nowhere but must be accepted.
func Run(t *testing.T, open func(t *testing.T) desk.Store) {
	for name, test := range map[string]func(*testing.T, desk.Store){
		"every field comes back":          testFields,
		"versions":                        testVersions,
		"nothing is not found":            testNotFound,
		"a request's names":               testNames,
		"lists of requests":               testLists,
		"a brief list":                    testBrief,
		"paging":                          testPaging,
		"search":                          testSearch,
		"files and bytes":                 testFiles,
		"messages":                        testMessages,
		"who is unanswered":               testUnanswered,
		"history":                         testEvents,
		"accounts":                        testCharges,
		"runs":                            testRuns,
		"spools":                          testSpools,
		"places":                          testPlaces,
		"staff":                           testStaff,
		"log-ins":                         testLogIns,
		"settings":                        testSettings,
		"what stays":                      testMemory,
		"letters":                         testLetters,
		"all or nothing":                  testAllOrNothing,
		"a reader sees one moment":        testSnapshot,
		"a reader writes nothing":         testReadOnly,
		"no change is lost":               testCounters,
		"one of two on one version":       testRace,
		"one form once":                   testForms,
		"text no database likes":          testOddText,
		"times to the microsecond":        testTimes,
		"numbers that are none":           testNumbers,
		"ids given where there were none": testGiven,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			test(t, open(t))
		})
	}
}

// at is a moment, n minutes into a day.
func at(n int) time.Time {
	return time.Date(2031, 3, 7, 9, 0, 0, 0, time.UTC).Add(time.Duration(n) * time.Minute)
}

// write does do in a transaction that must be kept.
func write(t *testing.T, s desk.Store, do func(tx desk.Tx) error) {
	t.Helper()
	if err := s.Write(t.Context(), do); err != nil {
		t.Fatal(err)
	}
}

// read returns what ask returns, in a transaction that must succeed.
func read[T any](t *testing.T, s desk.Store, ask func(tx desk.Tx) (T, error)) (v T) {
	t.Helper()
	err := s.Read(t.Context(), func(tx desk.Tx) (err error) {
		v, err = ask(tx)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// refused wants a Fault of a kind from a transaction.
func refused(t *testing.T, s desk.Store, want desk.Kind, do func(tx desk.Tx) error) {
	t.Helper()
	if err := s.Write(t.Context(), do); desk.KindOf(err) != want {
		t.Errorf("got %v, want a Fault of kind %s", err, want)
	}
}

var codes atomic.Int64

// code is one that no other request of the suite has. Of codes drawn by chance two
// are the same now and then: of the 61 of testPaging in one run of eighty (the
// birthday problem, with 18·8·1000 codes; COMPUTED).
func code() desk.Code {
	n := codes.Add(1)
	return desk.Code(fmt.Sprintf("A%d-%03d", 2+n/1000, n%1000))
}

// request keeps a request as set, with the rest filled in so that it can be.
func request(t *testing.T, s desk.Store, set func(*desk.Request)) desk.Request {
	t.Helper()
	r := desk.Request{Code: code(), State: desk.Received, Asked: at(0)}
	if set != nil {
		set(&r)
	}
	write(t, s, func(tx desk.Tx) error { return tx.SaveRequest(&r) })
	return r
}
