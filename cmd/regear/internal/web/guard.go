package web

import (
	"crypto/subtle"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
)

// Limits of what one request may send, in bytes. An import is the logs of a weekend or a
// season; everything else is a form.
const (
	mostUpload = 32 << 20
	mostForm   = 64 << 10
)

// policy lets a page load nothing but this site's style sheet and script, and run no
// script that stands in the page.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; " +
	"manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// Guard lets only those requests through that a page of this server could have made, or
// that somebody typed: under one of the host names, and not made by another site. It
// limits their size, and its headers keep other sites from using the answers.
//
// A host is a name without port, such as "localhost" or "192.0.2.7".
func Guard(next http.Handler, hosts []string) http.Handler {
	posts := http.NewCrossOriginProtection() // judges by Sec-Fetch-Site and Origin
	posts.SetDenyHandler(http.HandlerFunc(refuseForeign))
	next = posts.Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		head := w.Header()
		head.Set("Content-Security-Policy", policy)
		head.Set("X-Content-Type-Options", "nosniff")
		head.Set("X-Frame-Options", "DENY")
		head.Set("Referrer-Policy", "same-origin")
		head.Set("Cross-Origin-Opener-Policy", "same-origin")
		head.Set("Cross-Origin-Resource-Policy", "same-origin")
		head.Set("Cache-Control", "no-store")
		switch {
		case !slices.Contains(hosts, hostOf(r)):
			// A page of another site could read this one under a name of its own that leads here.
			http.Error(w, "This server does not go by that name: use the address that regear serve printed.", http.StatusMisdirectedRequest)
			return
		case isForeign(r):
			refuseForeign(w, r)
			return
		}
		most := int64(mostForm)
		if r.URL.Path == importPath {
			most = mostUpload
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		next.ServeHTTP(w, r)
	})
}

func refuseForeign(w http.ResponseWriter, _ *http.Request) {
	http.Error(w, "Another site asked for this, so it was refused. Open the page itself and try again.", http.StatusForbidden)
}

func hostOf(r *http.Request) string {
	host := r.Host
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	host = strings.Trim(host, "[]")
	if ip, err := netip.ParseAddr(host); err == nil {
		return ip.Unmap().String()
	}
	return strings.ToLower(host)
}

// isForeign reports whether a page of another site made a request. A link that was
// followed does not count: the other page does not see the answer.
func isForeign(r *http.Request) bool {
	switch r.Header.Get("Sec-Fetch-Site") {
	case "cross-site", "same-site":
		followed := r.Header.Get("Sec-Fetch-Mode") == "navigate" && r.Header.Get("Sec-Fetch-Dest") == "document"
		return !followed
	}
	origin := r.Header.Get("Origin")
	if origin == "" {
		return false
	}
	_, host, found := strings.Cut(origin, "://")
	return !found || host != r.Host
}

// Door keeps out every browser that has not come in by a one-time link. It is for servers
// that other computers can reach.
//
// A link opens a page with a button to come in. The button uses the link up, and marks
// the browser with a cookie until the server ends. The next phone gets a new link.
type Door struct {
	// Random returns a secret that can't be guessed, in letters and digits.
	Random func() string
	// NewLink is told the path of each new link.
	NewLink func(path string)

	mu  sync.Mutex
	key string          // of the link that is open
	in  map[string]bool // the cookies of the browsers that came in
}

const (
	doorPath = "/enter/"
	// doorCookie has no __Host- prefix, which browsers take over https alone.
	doorCookie = "regear_in"
)

func (d *Door) renew() {
	d.key = d.Random()
	d.NewLink(doorPath + d.key)
}

// Keep makes the first link, and returns a handler that lets the browsers that came in
// through to next.
func (d *Door) Keep(next http.Handler) http.Handler {
	d.in = map[string]bool{}
	d.renew()
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+doorPath+"{key}", d.ask)
	mux.HandleFunc("POST "+doorPath+"{key}", d.enter)
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		// The page in front of the door needs the style sheet alone.
		if d.isIn(r) || r.URL.Path == stylePath {
			next.ServeHTTP(w, r)
			return
		}
		showDoor(w, http.StatusUnauthorized, "Closed")
	})
	return mux
}

func (d *Door) isIn(r *http.Request) bool {
	cookie, err := r.Cookie(doorCookie)
	if err != nil {
		return false
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.in[cookie.Value]
}

// ask shows the page behind a link. It does not use the link up: messengers and
// browsers fetch links before anybody opens them.
func (d *Door) ask(w http.ResponseWriter, r *http.Request) {
	if d.isIn(r) {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	d.mu.Lock()
	fits := d.fits(r.PathValue("key"))
	d.mu.Unlock()
	if !fits {
		showDoor(w, http.StatusForbidden, "Used up")
		return
	}
	showDoor(w, http.StatusOK, "Come in")
}

func (d *Door) enter(w http.ResponseWriter, r *http.Request) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if !d.fits(r.PathValue("key")) {
		showDoor(w, http.StatusForbidden, "Used up")
		return
	}
	secret := d.Random()
	d.in[secret] = true
	d.renew()
	http.SetCookie(w, &http.Cookie{Name: doorCookie, Value: secret, Path: "/", HttpOnly: true, SameSite: http.SameSiteLaxMode})
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// fits reports whether a key is that of the open link. The caller holds the lock.
func (d *Door) fits(key string) bool {
	return subtle.ConstantTimeCompare([]byte(key), []byte(d.key)) == 1
}

func showDoor(w http.ResponseWriter, status int, title string) {
	render(w, status, "door.html", struct{ Title string }{title})
}
