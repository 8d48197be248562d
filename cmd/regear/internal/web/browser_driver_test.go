package web_test

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/audits"
	"github.com/chromedp/cdproto/browser"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// driver is somebody at a tab of the browser, who finds fields by their labels and
// buttons by their words, and reads what is shown. Whatever the test is about, the tab
// may in the end have asked nothing of another machine, and had no problem.
type driver struct {
	*testing.T
	look
	ctx    context.Context
	origin string // of the pages
	folder string // where downloads go
	status int64  // of the page that the latest press led to
	taps   int    // on what there is to press and to fill in
	typed  int    // characters

	mu       sync.Mutex
	requests []string // addresses
	pending  int      // of them, that are not answered yet
	received float64  // bytes, heads and all
	problems []string
}

// patience is how long a driver waits for what is expected.
const patience = 60 * time.Second

// drive opens a tab with cookies of its own, as on a device of its own.
func (p *pit) drive(l look) *driver {
	p.Helper()
	return drive(p.T, l, p.server.URL)
}

func drive(t *testing.T, l look, origin string) *driver {
	t.Helper()
	needBrowser(t)
	ctx, end := chromedp.NewContext(theBrowser.ctx, chromedp.WithNewBrowserContext())
	return newDriver(t, l, origin, ctx, end)
}

// another opens one more tab on the same device.
func (d *driver) another() *driver {
	d.Helper()
	ctx, end := chromedp.NewContext(d.ctx)
	return newDriver(d.T, d.look, d.origin, ctx, end)
}

func newDriver(t *testing.T, l look, origin string, ctx context.Context, end context.CancelFunc) *driver {
	t.Helper()
	d := &driver{T: t, look: l, ctx: ctx, origin: origin, folder: t.TempDir()}
	t.Cleanup(end)
	t.Cleanup(d.checkManners)
	d.must(chromedp.Listen(ctx, d.notice))
	d.lookAs(l)
	tell(d, audits.Enable, cdp.Empty{})
	tell(d, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: l.noScript})
	tell(d, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true})
	if _, err := chromedp.CallBrowser(ctx, browser.SetDownloadBehavior, browser.SetDownloadBehaviorParams{
		Behavior: browser.SetDownloadBehaviorBehaviorAllow, DownloadPath: d.folder,
		BrowserContextID: chromedp.FromContext(ctx).BrowserContextID}); err != nil {
		t.Fatal(err)
	}
	return d
}

// notice keeps what the tab asks for, and its problems.
func (d *driver) notice(event any) {
	d.mu.Lock()
	defer d.mu.Unlock()
	switch e := event.(type) {
	case *network.EventRequestWillBeSent:
		d.requests = append(d.requests, e.Request.URL)
		d.pending++
	case *network.EventLoadingFinished:
		d.received += e.EncodedDataLength
		d.pending--
	case *cdplog.EventEntryAdded:
		// That a form came back as refused is no problem of the page, nor that a thumb was faster,
		// nor that a test cut the connection.
		if strings.HasPrefix(e.Entry.Text, "Autofocus processing was blocked") || strings.Contains(e.Entry.Text, "ERR_INTERNET_DISCONNECTED") {
			return
		}
		if e.Entry.Source != cdplog.EntrySourceNetwork || !strings.Contains(e.Entry.Text, "status of 4") {
			d.problems = append(d.problems, string(e.Entry.Source)+": "+e.Entry.Text)
		}
	case *runtime.EventExceptionThrown:
		d.problems = append(d.problems, "script: "+e.ExceptionDetails.Text)
	case *runtime.EventConsoleAPICalled:
		d.problems = append(d.problems, "console: "+string(e.Type))
	case *audits.EventIssueAdded:
		if e.Issue.Code == audits.InspectorIssueCodeContentSecurityPolicyIssue {
			d.problems = append(d.problems, "content policy: "+e.Issue.Details.ContentSecurityPolicyIssueDetails.ViolatedDirective)
		}
	case *cdppage.EventJavascriptDialogOpening:
		d.problems = append(d.problems, "dialog: "+e.Message)
	}
}

// checkManners checks that the tab sent nothing elsewhere and had no problem.
func (d *driver) checkManners() {
	d.Helper()
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, url := range d.requests {
		if url != d.origin && !strings.HasPrefix(url, d.origin+"/") && !strings.HasPrefix(url, "data:") && url != "about:blank" {
			d.Errorf("the page asked for %s, which is not of %s", url, d.origin)
		}
	}
	for _, problem := range d.problems {
		d.Errorf("the browser has a problem: %s", problem)
	}
}

func (d *driver) must(err error) {
	d.Helper()
	if err != nil {
		d.Fatalf("%s: %v", d.look, err)
	}
}

// waiting is a context that a driver's patience ends.
func (d *driver) waiting() (context.Context, context.CancelFunc) {
	return context.WithTimeout(d.ctx, patience)
}

// tell tells the browser something over its protocol.
func tell[P, R any](d *driver, command cdp.Command[P, R], what P) R {
	d.Helper()
	ctx, end := d.waiting()
	defer end()
	answer, err := chromedp.Call(ctx, command, what)
	d.must(err)
	return answer
}

// see looks something up in the page. The expression runs as if typed into the browser's
// console, whether or not the page may run scripts.
func see[T any](d *driver, expression string) T {
	d.Helper()
	ctx, end := d.waiting()
	defer end()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	d.must(err)
	return value
}

// open goes to a page of the site.
func (d *driver) open(path string) *driver {
	d.Helper()
	ctx, end := d.waiting()
	defer end()
	response, err := chromedp.Run(ctx, chromedp.NavigateResponse(d.origin+path))
	d.must(err)
	d.status = response.Status
	return d
}

// shown is all text that can be read on the page.
func (d *driver) shown() string {
	d.Helper()
	return see[string](d, `document.body.innerText`)
}

// reads fails the test unless the page shows texts.
func (d *driver) reads(texts ...string) {
	d.Helper()
	shown := oneLine(d.shown())
	for _, text := range texts {
		if !strings.Contains(shown, oneLine(text)) {
			d.Errorf("%s: the page does not say %q. It says:\n%s", d.look, text, shown)
		}
	}
}

func oneLine(text string) string { return strings.Join(strings.Fields(text), " ") }

// headline is the answer in one sentence.
func (d *driver) headline() string {
	d.Helper()
	return oneLine(see[string](d, `document.querySelector(".headline").innerText`))
}

// until waits for something to come true.
func (d *driver) until(what string, isTrue func() bool) {
	d.Helper()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		if isTrue() {
			return
		}
	}
	d.Fatalf("%s: waited in vain: %s. The page says:\n%s", d.look, what, d.shown())
}

// element is one thing on the page.
type element runtime.RemoteObjectID

// The roles, as the browser tells them to a screen reader, of what a driver presses and
// fills in.
var (
	pressed  = []string{"button", "link", "DisclosureTriangle", "radio"}
	filledIn = []string{"textbox", "combobox", "checkbox", "slider", "DateTime", "Date", "spinbutton"}
)

// find returns what has one of the roles and a name, as a screen reader would find it:
// in the page's own part first, then in its frame. It waits for what is not there yet.
func (d *driver) find(name string, roles []string) element {
	d.Helper()
	var found element
	d.until(fmt.Sprintf("for something to use called %q", name), func() bool {
		found = d.lookFor("main", name, roles)
		if found == "" {
			found = d.lookFor("body", name, roles)
		}
		return found != ""
	})
	return found
}

// lookFor returns the first element of a part of the page that has one of the roles and
// a name, or "".
func (d *driver) lookFor(part, name string, roles []string) element {
	d.Helper()
	if !see[bool](d, `document.querySelector("`+part+`") !== null`) {
		return "" // not yet
	}
	root := d.object(`document.querySelector("` + part + `")`)
	found := tell(d, accessibility.QueryAXTree, accessibility.QueryAXTreeParams{ObjectID: root, AccessibleName: name})
	for _, node := range found.Nodes {
		var role string
		d.must(json.Unmarshal(node.Role.Value, &role))
		if !node.Ignored && slices.Contains(roles, role) {
			resolved := tell(d, dom.ResolveNode, dom.ResolveNodeParams{BackendNodeID: node.BackendDOMNodeID})
			return element(resolved.Object.ObjectID)
		}
	}
	return ""
}

// object returns a handle on what an expression finds in the page.
func (d *driver) object(expression string) runtime.RemoteObjectID {
	d.Helper()
	object := see[*runtime.RemoteObject](d, expression)
	if object == nil || object.ObjectID == "" {
		d.Fatalf("%s: the page has no %s", d.look, expression)
	}
	return object.ObjectID
}

// of calls a function of the page on an element.
func of[T any](d *driver, e element, function string) T {
	d.Helper()
	ctx, end := d.waiting()
	defer end()
	value, err := chromedp.Run(ctx, chromedp.CallFunctionOn[T](function, func(p *runtime.CallFunctionOnParams) {
		p.ObjectID = runtime.RemoteObjectID(e)
	}))
	d.must(err)
	return value
}

// spot is where to press an element, or why it can't be pressed.
type spot struct {
	X, Y float64
	Why  string
}

// spotOf brings an element into view and finds where a finger would press it.
func (d *driver) spotOf(e element) spot {
	d.Helper()
	s := of[spot](d, e, `function () {
		this.scrollIntoView({block: "center", behavior: "instant"});
		const box = this.getClientRects()[0];
		if (!box) return {Why: "is not shown"};
		const X = box.x + box.width / 2, Y = box.y + box.height / 2;
		const hit = document.elementFromPoint(X, Y);
		if (hit && (this.contains(hit) || hit.contains(this) && hit.matches("label"))) return {X, Y};
		return {Why: "lies under " + (hit ? hit.outerHTML.slice(0, 80) : "nothing")};
	}`)
	if s.Why != "" {
		d.Fatalf("%s: what should be pressed %s", d.look, s.Why)
	}
	return s
}

// at presses a spot: with a finger on a phone, with a mouse at a desk.
func (d *driver) at(s spot) chromedp.Action[chromedp.Void] {
	if d.touch {
		return chromedp.TapXY(s.X, s.Y)
	}
	return chromedp.MouseClickXY(s.X, s.Y)
}

// press presses a button or a link that stays on the page.
func (d *driver) press(name string) {
	d.Helper()
	d.tap(d.find(name, pressed))
}

func (d *driver) tap(e element) {
	d.Helper()
	d.taps++
	d.must(chromedp.Do(d.ctx, d.at(d.spotOf(e))))
}

// follow presses a button or a link, and waits for the page that it leads to.
func (d *driver) follow(name string) {
	d.Helper()
	d.taps++
	d.leave(d.at(d.spotOf(d.find(name, pressed))))
}

// leave does what leads to another page, and waits for that.
func (d *driver) leave(how chromedp.Action[chromedp.Void]) {
	d.Helper()
	ctx, end := d.waiting()
	defer end()
	response, err := chromedp.RunResponse(ctx, how)
	d.must(err)
	d.status = response.Status
}

// download presses what downloads a file, and returns the file's text.
func (d *driver) download(name string) string {
	d.Helper()
	d.press(name)
	var path string
	d.until("a download by "+name, func() bool {
		files, err := os.ReadDir(d.folder)
		d.must(err)
		for _, f := range files {
			info, err := f.Info()
			if err != nil || info.Size() == 0 || strings.HasSuffix(f.Name(), ".crdownload") || strings.HasPrefix(f.Name(), ".") {
				continue // not all there: the browser keeps the name free by an empty file
			}
			path = filepath.Join(d.folder, f.Name())
		}
		return path != ""
	})
	text, err := os.ReadFile(path)
	d.must(err)
	return string(text)
}

// keys presses keys one after another, wherever the focus is.
func (d *driver) keys(keys string) {
	d.Helper()
	ctx, end := d.waiting()
	defer end()
	d.must(chromedp.Do(ctx, chromedp.KeyEvent(keys)))
}

// fill enters a text into a field, in the place of what stood there, as a phone's
// keyboard does: whole.
func (d *driver) fill(label, text string) {
	d.Helper()
	otherThan := fmt.Sprintf(`[...document.querySelectorAll(".choice > label")].find(l => l.textContent === %q)?.parentElement.querySelector(".other input:not(:checked)")`, label)
	if see[bool](d, otherThan+" != null") {
		d.tap(element(d.object(otherThan)))
	}
	field := d.find(label, filledIn)
	if !of[bool](d, field, `function () { return document.activeElement === this }`) {
		d.tap(field)
	}
	d.typed += len(text)
	of[chromedp.Void](d, field, `function () { this.select() }`)
	tell(d, input.InsertText, input.InsertTextParams{Text: text})
}

// fillAll fills in fields, given as label and text in turn.
func (d *driver) fillAll(pairs ...string) {
	d.Helper()
	for i := 0; i < len(pairs); i += 2 {
		d.fill(pairs[i], pairs[i+1])
	}
}

// fillMoment types a moment into a field for one, whose parts stand in the order of the
// United States.
func (d *driver) fillMoment(label string, moment time.Time) {
	d.Helper()
	field := d.find(label, filledIn)
	of[chromedp.Void](d, field, `function () { this.focus() }`)
	d.keys(moment.Format("01022006") + kb.ArrowRight + moment.Format("0304PM"))
	if got, want := d.value(label), moment.Format("2006-01-02T15:04"); got != want {
		d.Fatalf("%s: typing a moment into %q gives %q, want %q", d.look, label, got, want)
	}
}

// choose chooses one of a field's options by its words.
func (d *driver) choose(label, words string) {
	d.Helper()
	field := d.find(label, filledIn)
	of[chromedp.Void](d, field, `function () { this.focus() }`)
	d.keys(words)
	d.keys(kb.Enter)
	if got := of[string](d, field, `function () { return this.selectedOptions[0].text }`); got != words {
		d.Fatalf("%s: %q stands at %q, want %q", d.look, label, got, words)
	}
}

// chooseFiles chooses files for the field with a label.
func (d *driver) chooseFiles(label string, paths ...string) {
	d.Helper()
	for i := range paths {
		var err error
		paths[i], err = filepath.Abs(paths[i])
		d.must(err)
	}
	field := d.object(fmt.Sprintf(`[...document.querySelectorAll("label")].find(l => l.textContent === %q).control`, label))
	tell(d, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: paths, ObjectID: field})
}

// value is what stands in a field.
func (d *driver) value(label string) string {
	d.Helper()
	return of[string](d, d.find(label, filledIn), `function () { return this.value }`)
}

// table returns the rows of the table whose caption begins with words, heads first, as
// they are shown.
func (d *driver) table(caption string) [][]string {
	d.Helper()
	rows := see[[][]string](d, fmt.Sprintf(`(() => {
		const table = [...document.querySelectorAll("table")].find(t => t.caption && t.caption.innerText.startsWith(%q));
		return table ? [...table.rows].map(r => [...r.cells].map(c => c.innerText.trim())) : [];
	})()`, caption))
	if len(rows) == 0 {
		d.Fatalf("%s: there is no table called %q. The page says:\n%s", d.look, caption, d.shown())
	}
	return rows
}

// shoot keeps a picture of the whole page, if somebody wants to look at it.
func (d *driver) shoot(name string) {
	d.Helper()
	folder := os.Getenv("REGEAR_SHOTS")
	if folder == "" {
		return
	}
	ctx, end := d.waiting()
	defer end()
	picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	d.must(err)
	d.must(os.MkdirAll(folder, 0o755))
	d.must(os.WriteFile(filepath.Join(folder, name+"-"+d.look.String()+".png"), picture, 0o644))
}

// tabTo presses Tab until the focus is on what has a name.
func (d *driver) tabTo(name string) {
	d.Helper()
	e := d.find(name, append(pressed, filledIn...))
	const most = 200
	for range most {
		if of[bool](d, e, `function () { return document.activeElement === this }`) {
			return
		}
		d.keys(kb.Tab)
	}
	d.Fatalf("%s: Tab never reaches %q", d.look, name)
}

// selectAll selects all of the field with the focus, as Ctrl-A does.
func (d *driver) selectAll() {
	d.Helper()
	ctx, end := d.waiting()
	defer end()
	d.must(chromedp.Do(ctx, chromedp.KeyEvent("a", chromedp.KeyModifiers(chromedp.ModifierCtrl))))
}
