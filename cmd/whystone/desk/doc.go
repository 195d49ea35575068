// Package desk is the web pages that staff work with: they take in stones, enter readings, and follow the verdict.
//
// A page computes nothing. What it shows is what a command's --json gives; asked for as application/json, it gives just
// that. Everything that is kept goes through package casebook, and every verdict through package engine.
//
// To add a page, write a file with a list of routes, each with the [users.Action] that it needs and a handler that
// returns a [page]; put the list into those that init of routes.go joins; and write its template as pages/NAME.html,
// which defines "main". A route with a Menu stands in the menu of those who may open it. What is to follow changes
// while the page is open stands in an element with an id and data-live: it is replaced by the element of that id of the
// page as it is then, unless somebody is typing in it. Tests open every route of the table, and look at each page in a
// browser; give them a path where the pattern has parts that are not fixed (paths_test.go).
package desk
