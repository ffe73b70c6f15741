package web

import (
	"container/list"
	"math"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// limiter paces each address by a bucket of its own. It remembers a bounded
// number of addresses and lets go of the one unheard of for longest.
type limiter struct {
	limit rate.Limit
	burst int
	now   func() time.Time

	mu    sync.Mutex
	order *list.List // of *bucket, latest first
	by    map[string]*list.Element
}

type bucket struct {
	who string
	*rate.Limiter
}

const mostBuckets = 20_000

func newLimiter(every time.Duration, burst int, now func() time.Time) *limiter {
	return limitTo(rate.Every(every), burst, now)
}

// newBudget lets each address have so much, which comes back within an hour.
func newBudget(anHour int64, now func() time.Time) *limiter {
	return limitTo(rate.Limit(float64(anHour)/3600), int(min(anHour, math.MaxInt)), now)
}

func limitTo(limit rate.Limit, burst int, now func() time.Time) *limiter {
	return &limiter{limit: limit, burst: burst, now: now, order: list.New(), by: map[string]*list.Element{}}
}

// allow says whether one more may come from who now, and counts it.
func (l *limiter) allow(who string) bool { return l.allowN(who, 1) }

// allowN is allow for n at once.
func (l *limiter) allowN(who string, n int) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	e, ok := l.by[who]
	if !ok {
		if l.order.Len() >= mostBuckets {
			last := l.order.Back()
			delete(l.by, l.order.Remove(last).(*bucket).who)
		}
		e = l.order.PushFront(&bucket{who, rate.NewLimiter(l.limit, l.burst)})
		l.by[who] = e
	}
	l.order.MoveToFront(e)
	return e.Value.(*bucket).AllowN(l.now(), n)
}

// from is the network address a request comes from, by the word of proxies we
// trust only. An IPv6 address stands for its /64, which one household holds.
func (s *Site) from(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	at, err := netip.ParseAddr(host)
	if err != nil {
		return "unknown"
	}
	at = at.Unmap().WithZone("")
	// From the nearest proxy outwards, as long as each is one of ours.
	hops := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	for i := len(hops) - 1; i >= 0 && s.trusted(at); i-- {
		next, err := netip.ParseAddr(strings.TrimSpace(hops[i]))
		if err != nil {
			break
		}
		at = next.Unmap().WithZone("")
	}
	if at.Is6() {
		if p, err := at.Prefix(64); err == nil {
			return p.Masked().String()
		}
	}
	return at.String()
}

func (s *Site) trusted(a netip.Addr) bool {
	for _, p := range s.proxies {
		if p.Contains(a) {
			return true
		}
	}
	return false
}
