package web

import (
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
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
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

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

// hostOf returns the name by which a request knows the server, without the port.
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
