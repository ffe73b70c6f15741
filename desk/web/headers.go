package web

import "net/http"

// policy is the Content-Security-Policy of every page. Scripts, styles, fonts
// and pictures come from here or not at all; nothing inline, no eval, no
// frames either way. wasm and workers are not used.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; " +
	"connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// headers sets what every answer carries. Pages are kept by nobody; assets set
// their own Cache-Control later.
//
// The referrer policy is same-origin and not no-referrer: a patron's secret
// link still never reaches another site, and with no-referrer browsers send
// "Origin: null" with our own forms, which over plain HTTP (a desk on the
// library's network) cannot be told from a forged one.
func (s *Site) headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=(), payment=(), usb=()")
		h.Set("X-Frame-Options", "DENY")
		h.Set("X-Robots-Tag", "noindex")
		h.Set("Cache-Control", "no-store")
		if s.secure {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		next.ServeHTTP(w, r)
	})
}
