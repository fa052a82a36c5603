"""Who may do what: people's PINs and passwords, tablets, log-ins.

Services never ask who is logged in: they are passed `by`. A password gives a person's roles; a PIN gives none, only
logging and viewing on an enrolled tablet.

Deliberate departures from OWASP ASVS 5.0:

- 6.2.1: PINs are shorter than 8 characters. They work on enrolled tablets only, with waits after wrong ones, and give
  an operator's rights.
- 6.2.4: passwords are not compared with a list of common ones.
- 6.3.3: there is no second factor but the enrolled tablet.
- 14.3.3: entries with people's codes stay on the tablet until they are sent, and its offline pages name people.

The first supervisor is whoever opens that page first, without a one-time code: it has to be done before the shop's
network can reach the server.
"""
