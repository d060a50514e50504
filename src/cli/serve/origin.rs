//! A web origin as given on the command line: scheme, host and port (RFC 6454), nothing else.

use std::fmt;
use std::net::Ipv6Addr;
use std::str::FromStr;

/// As browsers write it: lower case, without a port that is the scheme's own.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Origin(String);

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for Origin {
    type Err = String;

    /// Refuses anything more than an origin, since a path or a pattern would have no effect.
    fn from_str(text: &str) -> Result<Self, String> {
        let lower = text.to_ascii_lowercase();
        let (scheme, own_port, rest) = [("https", 443), ("http", 80)]
            .into_iter()
            .find_map(|(scheme, port)| Some((scheme, port, lower.strip_prefix(scheme)?.strip_prefix("://")?)))
            .ok_or("an origin begins with https:// or http://")?;
        let rest = rest.strip_suffix('/').unwrap_or(rest);
        if rest.contains(['/', '?', '#', '@']) {
            return Err("an origin is a scheme, a host and perhaps a port, without path or user".into());
        }
        let (host, port) = match rest.rsplit_once(':') {
            Some((host, port)) if !port.ends_with(']') => {
                let port: u16 = port.parse().map_err(|_| format!("'{port}' is no port"))?;
                (host, (port != own_port).then_some(port))
            }
            _ => (rest, None),
        };
        if !is_host(host) {
            return Err(format!("'{host}' is no host; names in other scripts are written in their xn-- form"));
        }
        Ok(Self(match port {
            Some(port) => format!("{scheme}://{host}:{port}"),
            None => format!("{scheme}://{host}"),
        }))
    }
}

/// A name of letters, digits and hyphens between dots (RFC 1123, 2.1), or an address of numbers.
fn is_host(host: &str) -> bool {
    if let Some(address) = host.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')) {
        return address.parse::<Ipv6Addr>().is_ok();
    }
    let is_label = |label: &str| {
        !label.is_empty()
            && !label.starts_with('-')
            && !label.ends_with('-')
            && label.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
    };
    host.split('.').all(is_label)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn origins_are_written_as_browsers_write_them() {
        for (text, origin) in [
            ("https://Models.Example", "https://models.example"),
            ("https://models.example:443/", "https://models.example"),
            ("http://localhost:8137", "http://localhost:8137"),
            ("http://[::1]:80", "http://[::1]"),
            ("http://[::1]", "http://[::1]"),
        ] {
            assert_eq!(Origin::from_str(text).map(|found| found.to_string()), Ok(origin.to_owned()), "{text}");
        }
    }

    #[test]
    fn anything_but_an_origin_is_refused() {
        for text in [
            "models.example",
            "ftp://models.example",
            "https://",
            "https://models.example/path",
            "https://user@models.example",
            "https://*.example",
            "https://models.example:port",
            "https://models.example:70000",
            "https://models.example; script-src *",
            "https://a\"b",
            "https://[zz]",
            "https://.example",
        ] {
            assert!(Origin::from_str(text).is_err(), "{text}");
        }
    }
}
