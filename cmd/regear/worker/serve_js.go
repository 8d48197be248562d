package main

import (
	"bytes"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"syscall/js"
)

// serve answers what sw.js asks, and never returns.
func serve(pages http.Handler, kept *keeping) {
	worker.Call("ready", js.FuncOf(func(_ js.Value, args []js.Value) any {
		go answer(pages, kept, args[0], args[1]) // one that waits for the browser would keep it from answering
		return nil
	}))
	select {}
}

// answer hands the answer to a request over to a function. The request has a method, a url, a
// kind and an origin, that may be "", and a body.
func answer(pages http.Handler, kept *keeping, asked, done js.Value) {
	a := &reply{header: http.Header{}}
	defer func() {
		if fault := recover(); fault != nil {
			a = &reply{header: http.Header{}, status: http.StatusInternalServerError}
			fmt.Fprintf(&a.body, "This page has a fault (%v). The log book is as it was: go back and try again.", fault)
		}
		header := map[string]any{}
		for name := range a.header {
			header[name] = a.header.Get(name)
		}
		done.Invoke(a.status, header, arrayOf(a.body.Bytes()))
	}()
	to, err := url.Parse(asked.Get("url").String())
	if err != nil {
		panic(err)
	}
	r, err := http.NewRequest(asked.Get("method").String(), to.String(), bytes.NewReader(bytesOf(asked.Get("body"))))
	if err != nil {
		panic(err)
	}
	base := worker.Get("base").String() // ends in a slash
	r.URL.Path = strings.TrimPrefix(r.URL.Path, strings.TrimSuffix(base, "/"))
	for name, value := range map[string]string{"Content-Type": "kind", "Origin": "origin"} {
		if text := asked.Get(value).String(); text != "" {
			r.Header.Set(name, text)
		}
	}
	if cookie, err := kept.texts.Read(cookieName); err == nil && cookie != nil {
		r.Header.Set("Cookie", string(cookie))
	}
	pages.ServeHTTP(a, r)
	a.lieAt(base)
	for _, c := range (&http.Response{Header: a.header}).Cookies() {
		if err := kept.set(cookieName, c.Name+"="+c.Value); err != nil {
			panic(err)
		}
	}
}

// reply is an answer in memory.
type reply struct {
	header http.Header
	status int
	body   bytes.Buffer
}

// Header implements [http.ResponseWriter].
func (a *reply) Header() http.Header { return a.header }

// WriteHeader implements [http.ResponseWriter].
func (a *reply) WriteHeader(status int) {
	if a.status == 0 {
		a.status = status
	}
}

// Write implements [http.ResponseWriter].
func (a *reply) Write(text []byte) (int, error) {
	a.WriteHeader(http.StatusOK)
	return a.body.Write(text)
}

// lieAt makes the addresses of an answer lie in the folder of a web space. What somebody typed
// holds none of what is replaced: a page has their quotation marks escaped.
func (a *reply) lieAt(base string) {
	if base == "/" {
		return
	}
	if to, found := strings.CutPrefix(a.header.Get("Location"), "/"); found {
		a.header.Set("Location", base+to)
	}
	if strings.HasPrefix(a.header.Get("Content-Type"), "text/html") {
		for _, name := range []string{"href", "src", "action", "formaction"} {
			text := bytes.ReplaceAll(a.body.Bytes(), []byte(" "+name+`="/`), []byte(" "+name+`="`+base))
			a.body = *bytes.NewBuffer(text)
		}
	}
}
