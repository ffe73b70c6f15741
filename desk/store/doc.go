// Package store keeps what the desk knows: rows in SQLite, one folder holding
// all, or in PostgreSQL by URL; files' bytes by their hash in a bucket.
//
// One set of hand-written SQL runs on both databases; what differs stands in
// sqlite.go and postgres.go, each with its reason. A row's columns are listed
// once, in tables.go: a further field is a line there and a line in a
// migration. Times are UTC microseconds, values no query looks into are JSON.
//
// No rule of the desk is here: who may do what and what follows what is asked
// of package desk before a row is written. Background work has tables of its
// own in the same database, and enqueues through a hook so that a job and its
// cause are kept or lost together.
package store
