package main

import (
	"crypto/tls"
	"fmt"
	"os"
	"sync"
	"time"
)

// keyPair is a certificate that is read anew when its file changes, so that a
// renewed one needs no restart.
type keyPair struct {
	certificate, key string

	mu   sync.Mutex
	seen time.Time // when the file in use was written
	pair *tls.Certificate
}

func (p *keyPair) get(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	info, err := os.Stat(p.certificate)
	if err == nil && p.pair != nil && info.ModTime().Equal(p.seen) {
		return p.pair, nil
	}
	if err == nil {
		var pair tls.Certificate
		if pair, err = tls.LoadX509KeyPair(p.certificate, p.key); err == nil {
			p.pair, p.seen = &pair, info.ModTime()
		}
	}
	if p.pair != nil {
		return p.pair, nil // half written, perhaps: the old one until it can be read
	}
	return nil, fmt.Errorf("the certificate %s and key %s cannot be used: %w", p.certificate, p.key, said(err))
}
