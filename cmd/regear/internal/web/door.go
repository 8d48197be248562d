package web

import (
	"crypto/subtle"
	"net/http"
	"sync"
)

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

// showDoor shows the page in front of the door. Its template knows what to say under each title.
func showDoor(w http.ResponseWriter, status int, title string) {
	render(w, status, "door.html", struct{ Title string }{title})
}
