// Package pg runs a PostgreSQL server for tests: a private cluster in a
// temporary folder, reached by a socket only, started when the first test asks
// for a database and stopped when the tests of the package are over.
//
// It looks for the server where Debian's postgresql puts it. Where there is
// none a test that needs one is skipped, or fails with CI set.
package pg
