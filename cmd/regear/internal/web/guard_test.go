package web_test

import (
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"regear/cmd/regear/internal/web"
)

func TestGuardKeepsOtherSitesOut(t *testing.T) {
	p := newPit(t, "")
	host := strings.TrimPrefix(p.server.URL, "http://")
	for _, c := range []struct {
		name, method, path, host string
		header                   map[string]string
		want                     int
	}{
		{"typed", "GET", "/", host, nil, 200},
		{"a page of ours", "POST", "/units", host, map[string]string{"Sec-Fetch-Site": "same-origin", "Origin": "http://" + host}, 200},
		{"a link followed on another site", "GET", "/", host, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}, 200},
		{"a foreign name that leads here", "GET", "/", "evil.example", nil, 421},
		{"a foreign name with the port", "GET", "/api/runs", "evil.example:8717", nil, 421},
		{"a name that begins like ours", "GET", "/", "127.0.0.1.evil.example", nil, 421},
		{"fetched by another site", "GET", "/api/runs", host, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors", "Sec-Fetch-Dest": "script"}, 403},
		{"framed by another site", "GET", "/", host, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"}, 403},
		{"another port of this machine", "GET", "/api/runs", host, map[string]string{"Sec-Fetch-Site": "same-site", "Sec-Fetch-Mode": "cors"}, 403},
		{"an origin by an old browser", "GET", "/api/runs", host, map[string]string{"Origin": "http://evil.example"}, 403},
		{"an origin that is nobody's", "GET", "/api/runs", host, map[string]string{"Origin": "null"}, 403},
		{"posted by another site", "POST", "/log", host, map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "http://evil.example"}, 403},
		{"posted by another site as a navigation", "POST", "/log", host, map[string]string{"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}, 403},
		{"posted by an old browser on another site", "POST", "/log", host, map[string]string{"Origin": "http://evil.example"}, 403},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := http.NewRequest(c.method, p.server.URL+c.path, nil)
			if err != nil {
				t.Fatal(err)
			}
			r.Host = c.host
			for name, value := range c.header {
				r.Header.Set(name, value)
			}
			got, err := p.client.Do(r)
			if err != nil {
				t.Fatal(err)
			}
			got.Body.Close()
			if got.StatusCode != c.want {
				t.Errorf("status %d, want %d", got.StatusCode, c.want)
			}
			if got.Header.Get("Content-Security-Policy") == "" || got.Header.Get("Access-Control-Allow-Origin") != "" {
				t.Error("the answer's headers let others in")
			}
		})
	}
}

func TestTooLargeIsRefused(t *testing.T) {
	p := newPit(t, "")
	p.post("/log", aRun(p.form("/log"), "84", "note", strings.Repeat("x", 70_000))).hasStatus(http.StatusRequestEntityTooLarge).
		has("A form holds 64 kB at most: shorten the note")
	p.hasRuns(0)
	p.imports("large.csv", strings.Repeat("x", 33<<20)).hasStatus(http.StatusRequestEntityTooLarge).has("regear import")
}

func TestNoPathOfARequestIsOpened(t *testing.T) {
	p := newPit(t, "")
	for _, path := range []string{"/../../etc/passwd", "/style.css/../../web.go", "/templates/layout.html", "/import/x/..%2f..%2fbook.csv",
		"/import/../book.csv", "/book.csv", "/page.js/", "/%2e%2e/book.csv", "//etc/passwd"} {
		if got := p.get(path); got.status == http.StatusOK && got.path != "/import" {
			t.Errorf("%s: status %d:\n%s", path, got.status, got.text)
		}
	}
	got := p.post("/units", url.Values{"units": {"us"}, "back": {"https://evil.example/"}})
	if got.path != "/" {
		t.Errorf("the choice of units leads to %s", got.path)
	}
	for _, back := range []string{"//evil.example/", `/\evil.example/`, "javascript:alert(1)", "http:evil.example", "%2f%2fevil.example"} {
		r, err := p.noRedirects().PostForm(p.server.URL+"/units", url.Values{"units": {"us"}, "back": {back}})
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		to, err := url.Parse(r.Header.Get("Location"))
		if err != nil || to.Host != "" || to.Scheme != "" || strings.HasPrefix(r.Header.Get("Location"), "//") || strings.HasPrefix(r.Header.Get("Location"), `/\`) {
			t.Errorf("%s leads to %s", back, r.Header.Get("Location"))
		}
	}
}

// noRedirects returns the client, which stays where it is told to go on.
func (p *pit) noRedirects() *http.Client {
	client := *p.client
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &client
}

func TestMarkupInCellsStaysText(t *testing.T) {
	p := newPit(t, "")
	const markup = `"><script>alert(1)</script><img src=x onerror=alert(2)>`
	p.saves(aRun(p.form("/log"), "84", "car", markup, "note", markup))
	p.imports(markup+".csv", "date,car,pinion_teeth,spur_teeth,tire_diameter_mm,ambient_c,run_minutes,motor_peak_c,<b>mine\n"+
		"2026-05-16,<i>car,<b>,68,118,22,12,84,<u>x\n2026-05-16,<i>car,17,68,118,22,12,84,<u>x\n").has("&lt;b&gt;")
	for _, path := range []string{"/", "/advice?car=" + url.QueryEscape(markup), "/fit?car=" + url.QueryEscape(markup), "/hindsight?car=" + url.QueryEscape(markup),
		"/runs", "/runs?car=" + url.QueryEscape(markup), "/log?car=" + url.QueryEscape(markup), "/advice?car=" + url.QueryEscape("nobody"+markup),
		"/runs?since=" + url.QueryEscape(markup), "/advice?car=" + url.QueryEscape(markup) + "&ambient=" + url.QueryEscape(markup)} {
		got := p.get(path)
		for _, danger := range []string{"<script>alert", "<img src=x", "<b>", "<i>car", "<u>x"} {
			got.lacks(danger)
		}
	}
	// What leaves as CSV must not become a formula of a spreadsheet.
	p.saves(aRun(p.form("/log?new=car"), "84", "note", "=1+1"))
	p.get("/runs.csv?car=heron").has(",'=1+1")
}

func TestDoorLetsOneBrowserInByEachLink(t *testing.T) {
	p := newPit(t, "")
	var links []string
	secrets := 0
	door := &web.Door{Random: func() string { secrets++; return strings.Repeat("k", 25) + string(rune('a'+secrets)) },
		NewLink: func(path string) { links = append(links, path) }}
	server := httptest.NewServer(web.Guard(door.Keep(newSite(p.book, "").Handler()), []string{"127.0.0.1"}))
	defer server.Close()
	p.server = server

	for _, path := range []string{"/", "/log", "/advice", "/api/runs", "/api/advice", "/runs.csv", "/import", "/page.js", "/enter/", "/enter/guess"} {
		if got := p.get(path); got.status < 400 || strings.Contains(got.text, "Your cars") {
			t.Errorf("%s: status %d for whoever has no link", path, got.status)
		}
	}
	p.post("/log", aRun(url.Values{}, "84")).hasStatus(http.StatusUnauthorized)
	// Messengers fetch a link before anybody opens it.
	p.get(links[0]).has("Come in")
	p.get(links[0]).has("Come in")
	p.post(links[0], nil).has("Your cars")
	p.get("/").has("Your cars")

	other := newPit(t, "")
	other.server = server
	other.post(links[0], nil).has("Used up")
	other.get("/").hasStatus(http.StatusUnauthorized)
	if len(links) != 2 {
		t.Fatalf("%d links after one was used", len(links))
	}
	other.post(links[1], nil).has("Your cars")
	p.get("/").has("Your cars")
}

// TestSlowRequestIsDropped shows that a request which never ends does not keep others
// from being answered, and that its own connection is closed by the server's limits.
func TestSlowRequestIsDropped(t *testing.T) {
	p := newPit(t, "")
	slow := httptest.NewUnstartedServer(p.server.Config.Handler)
	slow.Config.ReadTimeout = 200 * time.Millisecond
	slow.Start()
	defer slow.Close()
	connection, err := net.Dial("tcp", slow.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer connection.Close()
	_, _ = io.WriteString(connection, "POST /log HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 1000\r\n\r\ncar=heron")
	_ = connection.SetReadDeadline(time.Now().Add(10 * time.Second))
	answer, _ := io.ReadAll(connection) // ends when the server hangs up
	if strings.Contains(string(answer), "200 OK") {
		t.Errorf("half a form was taken: %s", answer)
	}
	p.hasRuns(0)
}
