// Package users is who may do what in a house, and whether it is they.
//
// A [User] has a name, a [Role] and a password, of which only a slow hash is kept (argon2id, RFC 9106). Whoever is
// added, or whose password is reset, gets a word that is good for one sign-in, after which they choose a password. A
// [Session] is kept at the server, under a hash of what the browser holds, beside the users: so whoever is removed or
// reset is out at once, whichever program did it. Everything that changes anything is entered in the audit, sign-ins
// too.
//
// A [Store] keeps these and knows nothing of what they mean. A [Register] is the one way to write.
package users
