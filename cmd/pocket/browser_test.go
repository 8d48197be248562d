package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/cdproto/systeminfo"
	"github.com/chromedp/chromedp"
)

// built builds the site once for all tests.
var built = sync.OnceValues(func() (map[string][]byte, error) {
	if err := os.Chdir("../.."); err != nil { // where the command runs
		return nil, err
	}
	return build()
})

// webSpace is a place for files, and nothing but files, that can be out of reach.
type webSpace struct {
	testing.TB
	folder, address string
	server          *http.Server
}

// newWebSpace puts the site into a folder of a web space.
func newWebSpace(t testing.TB, folder string) *webSpace {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser takes long: without -short this runs")
	}
	site, err := built()
	if err != nil {
		t.Fatal(err)
	}
	w := &webSpace{TB: t, folder: t.TempDir(), address: "127.0.0.1:0"}
	for name, text := range site {
		w.put(folder+name, text)
	}
	w.reachable()
	return w
}

func (w *webSpace) put(name string, text []byte) {
	w.Helper()
	path := filepath.Join(w.folder, filepath.FromSlash(name))
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, text, 0o644)); err != nil {
		w.Fatal(err)
	}
}

func (w *webSpace) reachable() {
	w.Helper()
	listener, err := net.Listen("tcp", w.address)
	if err != nil {
		w.Fatal(err)
	}
	w.address = listener.Addr().String()
	w.server = &http.Server{Handler: http.FileServer(http.Dir(w.folder))}
	go w.server.Serve(listener)
	w.Cleanup(w.outOfReach)
}

func (w *webSpace) outOfReach() { w.server.Close() }

// phone is a browser that keeps what it stores while it is ended and started anew.
type phone struct {
	testing.TB
	home    string // the address of the log book
	data    string // the folder of what the browser stores
	ctx     context.Context
	process *os.Process
	end     func()

	mu       sync.Mutex
	problems []string
}

const patience = 60 * time.Second

func newPhone(t testing.TB, home string) *phone {
	t.Helper()
	p := &phone{TB: t, home: home, data: t.TempDir()}
	p.start()
	t.Cleanup(func() { p.end() })
	return p
}

// start starts the browser with a tab.
func (p *phone) start() {
	p.Helper()
	var cmd *exec.Cmd
	allocator, endAllocator := chromedp.NewExecAllocator(context.Background(), append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.UserDataDir(p.data),
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("no-pings", true),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"),
		chromedp.Flag("lang", "en-US"),
		chromedp.ModifyCmdFunc(func(c *exec.Cmd) { cmd = c }))...)
	ctx, endBrowser := chromedp.NewContext(allocator)
	switch err := chromedp.Do(ctx); {
	case errors.Is(err, exec.ErrNotFound) && os.Getenv("CI") != "true":
		p.Skip("no Chromium on this machine: install chromium to run the browser tests")
	case err != nil:
		p.Fatalf("the browser does not start: %v", err)
	}
	p.ctx, p.process = ctx, cmd.Process
	p.end = func() { endBrowser(); endAllocator() }
	p.must(chromedp.Listen(ctx, p.notice))
}

// restart ends the browser as an empty battery does, and starts it anew.
func (p *phone) restart() {
	p.Helper()
	p.must(p.process.Kill())
	p.end()
	p.start()
}

func (p *phone) notice(event any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch e := event.(type) {
	case *cdplog.EventEntryAdded:
		// A page that is left while it loads has manifest and icon cut off: TestSite looks at them.
		if e.Entry.Source != cdplog.EntrySourceNetwork && !strings.Contains(e.Entry.Text, "Manifest") {
			p.problems = append(p.problems, string(e.Entry.Source)+": "+e.Entry.Text)
		}
	case *runtime.EventExceptionThrown:
		p.problems = append(p.problems, "script: "+e.ExceptionDetails.Text)
	}
}

// behaved fails the test if the browser had a problem with a page.
func (p *phone) behaved() {
	p.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, problem := range p.problems {
		p.Error("the browser has a problem:", problem)
	}
}

func (p *phone) must(err error) {
	p.Helper()
	if err != nil {
		p.Fatal(err)
	}
}

func tell[P, R any](p *phone, command cdp.Command[P, R], what P) R {
	p.Helper()
	ctx, end := context.WithTimeout(p.ctx, patience)
	defer end()
	answer, err := chromedp.Call(ctx, command, what)
	p.must(err)
	return answer
}

func see[T any](p *phone, expression string) T {
	p.Helper()
	ctx, end := context.WithTimeout(p.ctx, patience)
	defer end()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	p.must(err)
	return value
}

// open goes to a page of the log book.
func (p *phone) open(path string) {
	p.Helper()
	ctx, end := context.WithTimeout(p.ctx, patience)
	defer end()
	_, err := chromedp.Run(ctx, chromedp.NavigateResponse(p.home+path))
	p.must(err)
}

// install opens the address for the first time, and waits for the log book.
func (p *phone) install() {
	p.Helper()
	p.open("")
	p.until("the log book", func() bool { return strings.Contains(p.shown(), "The log book is empty") })
}

func (p *phone) until(what string, isTrue func() bool) {
	p.Helper()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if isTrue() {
			return
		}
	}
	p.Fatalf("waited in vain for %s. The page says:\n%s", what, p.shown())
}

func (p *phone) shown() string {
	p.Helper()
	return see[string](p, `document.body?.innerText ?? ""`)
}

func (p *phone) reads(texts ...string) {
	p.Helper()
	shown := strings.Join(strings.Fields(p.shown()), " ")
	for _, text := range texts {
		if !strings.Contains(shown, text) {
			p.Errorf("the page does not say %q. It says:\n%s", text, shown)
		}
	}
}

// fill enters texts into the fields of labels, given in turn.
func (p *phone) fill(pairs ...string) {
	p.Helper()
	for i := 0; i < len(pairs); i += 2 {
		if !see[bool](p, fmt.Sprintf(`(() => {
			const label = [...document.querySelectorAll("label")].find(l => l.textContent.trim() === %q);
			if (!label) return false;
			label.control.value = %q;
			return label.control.dispatchEvent(new Event("input", { bubbles: true }));
		})()`, pairs[i], pairs[i+1])) {
			p.Fatalf("there is no field called %q. The page says:\n%s", pairs[i], p.shown())
		}
	}
}

// press presses a button or follows a link of the page's own part, or else of its frame.
func (p *phone) press(words string) string {
	return fmt.Sprintf(`(() => {
		const said = (e) => e.innerText.trim(), parts = ["main", "header", "nav", "#renew"];
		const all = parts.flatMap(part => [...document.querySelectorAll(part + " :is(a, button)")]);
		const found = all.find(e => said(e) === %q) ?? all.find(e => said(e).startsWith(%[1]q));
		if (!found) return false;
		setTimeout(() => found.click());
		return true;
	})()`, words)
}

// follow presses what leads to another page, and waits for that.
func (p *phone) follow(words string) {
	p.Helper()
	ctx, end := context.WithTimeout(p.ctx, patience)
	defer end()
	_, err := chromedp.RunResponse(ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		found, err := chromedp.Run(ctx, chromedp.Evaluate[bool](p.press(words)))
		if err == nil && !found {
			err = fmt.Errorf("there is nothing called %q to press", words)
		}
		return err
	}))
	if err != nil {
		p.Fatalf("%v. The page says:\n%s", err, p.shown())
	}
}

// download follows a link to a file, and returns what the file holds.
func (p *phone) download(words string) []byte {
	p.Helper()
	folder := p.TempDir()
	_, err := chromedp.CallBrowser(p.ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: folder})
	p.must(err)
	if !see[bool](p, p.press(words)) {
		p.Fatalf("there is nothing called %q to press. The page says:\n%s", words, p.shown())
	}
	var text []byte
	p.until("a download", func() bool {
		files, err := filepath.Glob(filepath.Join(folder, "*"))
		p.must(err)
		if len(files) != 1 || strings.HasSuffix(files[0], ".crdownload") {
			return false
		}
		text, err = os.ReadFile(files[0])
		return err == nil && len(text) > 0
	})
	return text
}

// choose chooses a file for the page's field for files.
func (p *phone) choose(path string) {
	p.Helper()
	path, err := filepath.Abs(path)
	p.must(err)
	field := see[*runtime.RemoteObject](p, `document.querySelector("input[type=file]")`)
	tell(p, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: []string{path}, ObjectID: field.ObjectID})
}

type loggedRun struct {
	Motor float64 `json:"motor_peak_c"`
	Note  string
}

// runs returns the runs of the log book, as the page tells them to other programs.
func (p *phone) runs() []loggedRun {
	p.Helper()
	var answer struct{ Runs []loggedRun }
	text := see[string](p, `fetch(new URL("api/runs", document.querySelector("link[rel=manifest]").href)).then(r => r.text())`)
	if err := json.Unmarshal([]byte(text), &answer); err != nil {
		p.Fatalf("%v: %s", err, text)
	}
	return answer.Runs
}

// stopWorker stops the worker, as a browser does with one that nobody asked anything for a while.
func (p *phone) stopWorker() {
	p.Helper()
	tell(p, serviceworker.Enable, cdp.Empty{})
	tell(p, serviceworker.StopAllWorkers, cdp.Empty{})
}

// busy returns how long the browser's processes have computed so far.
func (p *phone) busy() (seconds float64) {
	p.Helper()
	info, err := chromedp.CallBrowser(p.ctx, systeminfo.GetProcessInfo, cdp.Empty{})
	p.must(err)
	for _, process := range info.ProcessInfo {
		seconds += process.CPUTime
	}
	return seconds
}
