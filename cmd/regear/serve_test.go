package main

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	qr "github.com/piglig/go-qr"

	"regear/advise/carfile"
	"regear/analyze/logbook"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/web"
)

// served runs `regear serve` until the test ends, and returns what it printed.
func served(t *testing.T, address string) string {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	printed, out := io.Pipe()
	env := &environment{out: out, errOut: io.Discard, getenv: func(string) string { return "" }, now: time.Now}
	opts := &serveOptions{units: newUnitsFlag()}
	opts.path = t.TempDir() + "/book.csv"
	ended := make(chan error, 1)
	go func() { ended <- runServe(ctx, env, opts, address) }()
	t.Cleanup(func() {
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	text := make([]byte, 4096)
	n, err := io.ReadAtLeast(printed, text, 40)
	if err != nil {
		t.Fatal(err)
	}
	go io.Copy(io.Discard, printed)
	return string(text[:n])
}

func TestServeListensOnThisComputerAlone(t *testing.T) {
	printed := served(t, "127.0.0.1:0")
	_, address, found := strings.Cut(printed, "http://")
	address, _, _ = strings.Cut(address, "/")
	if !found {
		t.Fatalf("printed %q", printed)
	}
	answer, err := http.Get("http://" + address + "/")
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	text, _ := io.ReadAll(answer.Body)
	if answer.StatusCode != 200 || !bytes.Contains(text, []byte("The log book is empty")) {
		t.Errorf("%d:\n%s", answer.StatusCode, text)
	}
	listener, err := net.Listen("tcp", address)
	if err == nil {
		listener.Close()
		t.Fatal("nothing listens there")
	}
	if err := cantListen(address, err); !strings.Contains(err.Error(), "another program listens there") {
		t.Errorf("a taken port is told as %v", err)
	}
}

// The numbers of Windows, as golang.org/x/sys/windows has them.
func TestCantListenOnWindows(t *testing.T) {
	for number, want := range map[syscall.Errno]string{
		10013: "1.2.3.4:5: Windows keeps this port",
		10048: "1.2.3.4:5: another program listens there already",
		10049: "1.2.3.4:5: is not an address of this computer",
	} {
		err := cantListen("1.2.3.4:5", &net.OpError{Err: os.NewSyscallError("bind", number)})
		if !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%d is told as %v, want %s", number, err, want)
		}
	}
}

func TestOpenToOthersTakesALink(t *testing.T) {
	var out strings.Builder
	site := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { io.WriteString(w, "inside") })
	handler, err := openTo(&net.TCPAddr{IP: net.IPv4(192, 0, 2, 7), Port: 8717}, site, &out)
	if err != nil {
		t.Fatal(err)
	}
	_, path, found := strings.Cut(out.String(), "http://192.0.2.7:8717")
	path, _, _ = strings.Cut(path, "\n")
	if !found || !strings.Contains(out.String(), "Nothing is encrypted") {
		t.Fatalf("printed %q", out.String())
	}
	for _, c := range []struct {
		method, path string
		want         int
	}{{"GET", "/", 401}, {"GET", "/api/runs", 401}, {"GET", path, 200}, {"POST", path, 303}, {"POST", path, 403}} {
		got := httptest.NewRecorder()
		handler.ServeHTTP(got, httptest.NewRequest(c.method, "http://192.0.2.7:8717"+c.path, nil))
		if got.Code != c.want {
			t.Errorf("%s %s: status %d, want %d", c.method, c.path, got.Code, c.want)
		}
	}
	if n := strings.Count(out.String(), "http://192.0.2.7:8717/enter/"); n != 2 {
		t.Errorf("%d links were printed:\n%s", n, out.String())
	}
}

func TestListenAddress(t *testing.T) {
	for text, want := range map[string]string{
		"192.168.43.20": "192.168.43.20:8717", ":9000": ":9000", "127.0.0.1:0": "127.0.0.1:0", "localhost": "localhost:8717",
		"::1": "[::1]:8717", "[::1]:9000": "[::1]:9000", "club.example": "", "club.example:80": "", "": "",
	} {
		got, err := listenAddress(text)
		if got != want || (err == nil) != (want != "") {
			t.Errorf("%q: %q, %v, want %q", text, got, err, want)
		}
	}
}

// TestPicturedLinkCanBeRead draws the printed half blocks as a picture and reads them
// back with the library's decoder.
func TestPicturedLinkCanBeRead(t *testing.T) {
	const link = "http://192.168.43.20:8717/enter/abcdefghijklmnopqrstuvwxyz"
	const scale = 6
	lines := strings.Split(strings.TrimSuffix(picturedLink(link), "\n"), "\n")
	var cells [][2]bool
	width := 0
	for _, line := range lines {
		line = strings.NewReplacer("\x1b[30;107m", "", "\x1b[0m", "").Replace(line)
		for _, c := range []rune(line)[2:] {
			cells = append(cells, [2]bool{c == '▀' || c == '█', c == '▄' || c == '█'})
		}
		width = len([]rune(line)) - 2
	}
	picture := image.NewGray(image.Rect(0, 0, width*scale, 2*len(lines)*scale))
	for y := range picture.Rect.Max.Y {
		for x := range picture.Rect.Max.X {
			row := y / scale
			shade := color.Gray{Y: 255}
			if cells[row/2*width+x/scale][row%2] {
				shade.Y = 0
			}
			picture.SetGray(x, y, shade)
		}
	}
	if got, err := qr.Decode(picture); err != nil || got != link {
		t.Errorf("the code reads %q, %v", got, err)
	}
}

// BenchmarkAdvicePage compares the advice page of a season, figures and all, with the
// same work by the command in one process: `regear advise`, without figures and with
// the page's three. The two are timed in turn, so that load falls on both.
func BenchmarkAdvicePage(b *testing.B) {
	book := filepath.Join(b.TempDir(), "book.csv")
	command := func(args ...string) {
		if code := run(args, strings.NewReader(""), io.Discard, io.Discard); code != 0 {
			b.Fatalf("%v: exit %d", args, code)
		}
	}
	command("import", "--book", book, "../../testdata/demo/season.csv")
	noCars := func() (*carfile.File, error) { return &carfile.File{}, nil }
	site := &web.Site{App: app.App{Book: logbook.Book{Path: book}, Cars: noCars, Now: time.Now}, Random: random, Version: "bench"}
	handler := site.Handler()
	figures := filepath.Join(b.TempDir(), "figure.svg")

	var page, plain, drawn []float64
	for b.Loop() {
		page = append(page, seconds(func() {
			answer := httptest.NewRecorder()
			handler.ServeHTTP(answer, httptest.NewRequest("GET", "/advice?car=heron", nil))
			if answer.Code != 200 {
				b.Fatal(answer.Code)
			}
		}))
		plain = append(plain, seconds(func() { command("advise", "--book", book) }))
		drawn = append(drawn, seconds(func() {
			command("advise", "--book", book)
			for _, figure := range []string{"ratio", "chance", "minutes"} {
				command("plot", figure, "--book", book, "--out", figures)
			}
		}))
	}
	b.ReportMetric(median(page)*1e3, "page-ms")
	b.ReportMetric(median(page)/median(plain), "page/advise")
	b.ReportMetric(median(page)/median(drawn), "page/advise+plots")
}

func seconds(work func()) float64 {
	began := time.Now()
	work()
	return time.Since(began).Seconds()
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	return x[len(x)/2]
}
