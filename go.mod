module platebook

go 1.26.8

require (
	github.com/BurntSushi/toml v1.6.0 // indirect
	github.com/alecthomas/kong v1.17.0 // indirect
	github.com/bojanz/currency v1.4.2 // indirect
	github.com/cockroachdb/apd/v3 v3.2.3 // indirect
	github.com/google/go-cmp v0.7.0 // indirect
	golang.org/x/image v0.47.0 // indirect
	golang.org/x/sync v0.25.0 // indirect
	golang.org/x/text v0.44.0 // indirect
	pgregory.net/rapid v1.3.0 // indirect
)
