package document_test

import (
	"os"

	"regear/cmd/regear/internal/document"
)

func Example() {
	answer := document.Document{
		document.Headline("Keep the gearing."),
		document.Section{ID: "why", Title: "Why", Body: document.Document{document.List{"It holds.", "Nothing taller does."}}},
	}
	_ = answer.Text(os.Stdout, document.Layout{})
	_, _ = os.Stdout.WriteString(string(answer.HTML()))
	// Output:
	// Keep the gearing.
	//
	// Why:
	//   - It holds.
	//   - Nothing taller does.
	// <p class="headline">Keep the gearing.</p>
	// <section id="why">
	// <h2>Why</h2>
	// <ul>
	// <li>It holds.</li>
	// <li>Nothing taller does.</li>
	// </ul>
	// </section>
}
