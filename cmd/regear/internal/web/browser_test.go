package web_test

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
)

// theBrowser is one browser for all tests. It starts with the first that needs it.
var theBrowser struct {
	once sync.Once
	ctx  context.Context
	end  context.CancelFunc
	err  error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if theBrowser.end != nil {
		theBrowser.end()
	}
	os.Exit(code)
}

// startBrowser starts the browser so that nothing but the pages under test makes it
// send anything: no name but the loopback's leads anywhere.
func startBrowser() {
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-domain-reliability", true),
		chromedp.Flag("disable-quic", true),
		chromedp.Flag("no-pings", true),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"),
		chromedp.Flag("lang", "en-US"), // the order of day and month in a field for a moment
	)
	allocator, endAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, endBrowser := chromedp.NewContext(allocator)
	theBrowser.ctx = ctx
	theBrowser.end = func() { endBrowser(); endAllocator() }
	theBrowser.err = chromedp.Do(ctx)
}

// needBrowser skips a test where there is no browser. In CI there has to be one.
func needBrowser(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes long: without -short this runs")
	}
	theBrowser.once.Do(startBrowser)
	switch missing := errors.Is(theBrowser.err, exec.ErrNotFound); {
	case theBrowser.err == nil:
	case missing && os.Getenv("CI") != "true":
		t.Skip("no Chromium on this machine: install chromium to run the browser tests")
	case missing:
		t.Fatal("no Chromium on this machine: CI has to run the browser tests")
	default:
		t.Fatalf("the browser does not start: %v", theBrowser.err)
	}
}

// look is how a page is looked at.
type look struct {
	device
	dark     bool
	noScript bool
}

type device struct {
	name          string
	width, height int64
	touch         bool
}

var (
	phone = device{"phone", 360, 740, true}
	desk  = device{"desk", 1280, 900, false}
)

func (l look) String() string {
	words := l.name + "-" + l.scheme()
	if l.noScript {
		words += "-no-script"
	}
	return words
}

func (l look) scheme() string {
	if l.dark {
		return "dark"
	}
	return "light"
}

// inEach runs a test at once in each of several looks, each time with a pit of its own.
func inEach(t *testing.T, looks []look, newPit func(*testing.T) *pit, test func(p *pit, d *driver)) {
	for _, l := range looks {
		t.Run(l.String(), func(t *testing.T) {
			t.Parallel()
			p := newPit(t)
			test(p, p.drive(l))
		})
	}
}

// looks are both devices in both schemes.
var looks = []look{{device: phone}, {device: phone, dark: true}, {device: desk}, {device: desk, dark: true}}
