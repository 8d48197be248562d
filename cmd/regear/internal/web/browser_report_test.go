package web_test

import (
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"regear/analyze/units"
	"regear/cmd/regear/internal/report"
)

// TestBrowserReport opens the report of 30 runs that was kept, from the disk and without a
// network, and reads and prints it.
func TestBrowserReport(t *testing.T) {
	t.Parallel()
	p := newPit(t, "")
	keeper := p.drive(look{device: phone})
	keeper.imports(filepath.Join(demoFolder, "season.csv"))
	keeper.open("/advice?car=heron")
	page := keeper.aFile("report.html", keeper.download("A report to keep"))
	d := drive(t, look{device: phone}, "file://"+filepath.ToSlash(page))
	tell(d, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
		MatchedNetworkConditions: []*network.Conditions{{Offline: true}}})
	d.must(chromedp.Do(d.ctx, chromedp.Navigate(d.origin)))
	want := p.advised("heron")
	if got := d.headline(); got != oneLine(report.Headline(want, units.Metric)) {
		t.Errorf("the report says %q", got)
	}
	d.reads("test", clock.Format("2006-01-02")) // the program's version, and the day
	d.inspect("report")
	if n := see[int](d, `[...document.querySelectorAll("figure svg")].filter(s => s.getBoundingClientRect().width > 250 && s.querySelector("title")).length`); n < 3 {
		t.Errorf("%d figures are to be seen, want at least 3", n)
	}
	d.prints()
}

var aPage = regexp.MustCompile(`/Type ?/Page\b`)

// prints prints the page on both sorts of paper. No table is cut off at the paper's edge, the
// first page holds the pick, pictures, the candidates and the conditions, and 30 runs take 6 pages
// at most.
func (d *driver) prints() {
	d.Helper()
	for name, paper := range map[string]chromedp.PaperSize{"A4": chromedp.PaperA4, "Letter": chromedp.PaperLetter} {
		const margin, above, perInch = 15 / 25.4, 12 / 25.4, 96 // the style sheet's margins; CSS pixels in an inch
		tell(d, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		d.must(chromedp.Do(d.ctx, chromedp.EmulateViewport(int64((paper.Width-2*margin)*perInch), int64(paper.Height*perInch))))
		for _, cut := range see[[]string](d, `[...document.querySelectorAll("body, .wide, figure, table")]
			.filter(e => e.scrollWidth > innerWidth).map(e => e.tagName + " " + e.scrollWidth + " px wide: " + e.innerText.slice(0, 60))`) {
			d.Errorf("on %s, this is cut off: %s", name, cut)
		}
		onFirst := see[[]float64](d, `[".headline", ".figures", "#candidates", "#assumed"]
			.map(what => document.querySelector(what).getBoundingClientRect().bottom + scrollY)`)
		if first := (paper.Height - 2*above) * perInch; !slices.IsSorted(onFirst) || onFirst[len(onFirst)-1] > first {
			d.Errorf("on %s, the first page ends at %.0f px; pick, pictures, candidates and conditions end at %.0f", name, first, onFirst)
		}
		ctx, end := d.waiting()
		printed, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPaper(paper)))
		end()
		d.must(err)
		if pages := len(aPage.FindAll(printed, -1)); pages < 2 || pages > 6 {
			d.Errorf("on %s the report has %d pages", name, pages)
		}
		d.shoot("report-" + strings.ToLower(name))
	}
}
