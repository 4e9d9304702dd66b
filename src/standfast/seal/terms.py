"""What the terms of a credential mean: our own map, of exactly the terms that we use.

Readers that expect `eddsa-rdfc-2022` turn a document into statements (RDF) by the contexts that it
names.  Contexts are never fetched, and other people's files are not shipped: this map gives the
same statements for our documents, which tests hold against published signatures.

Sources of the names: W3C Verifiable Credentials Data Model 2.0, Data Integrity 1.0, Bitstring
Status List 1.0, and Open Badges 3.0 (context 3.0.3).
"""

from __future__ import annotations

from typing import Any

CREDENTIALS = "https://www.w3.org/ns/credentials/v2"
BADGES = "https://purl.imsglobal.org/spec/ob/v3p0/context-3.0.3.json"

VC = "https://www.w3.org/2018/credentials#"
STATUS = "https://www.w3.org/ns/credentials/status#"
SECURITY = "https://w3id.org/security#"
BADGE = "https://purl.imsglobal.org/spec/vc/ob/vocab.html#"
SCHEMA = "https://schema.org/"
XSD = "http://www.w3.org/2001/XMLSchema#"
XSD_OF_BADGES = "https://www.w3.org/2001/XMLSchema#"
"""Written so in the context of Open Badges; another name than that of W3C."""

TYPES = {
    **dict.fromkeys(("VerifiableCredential",), VC),
    **dict.fromkeys(
        ("BitstringStatusListCredential", "BitstringStatusList", "BitstringStatusListEntry"), STATUS
    ),
    "DataIntegrityProof": SECURITY,
    **dict.fromkeys(
        (
            *("OpenBadgeCredential", "Achievement", "AchievementSubject", "Criteria", "Evidence"),
            *("IdentityObject", "Profile", "Result", "ResultDescription", "RubricCriterionLevel"),
        ),
        BADGE,
    ),
}
"""Types that are named like themselves, and where."""

OTHER_TYPES = {"Alignment": f"{SCHEMA}AlignmentObject"}

WORDS = {
    VC: (),
    STATUS: ("statusListIndex", "statusPurpose", "ttl"),
    BADGE: (
        *("achievement", "achievementType", "humanCode", "identityHash", "identityType", "level"),
        *("licenseNumber", "narrative", "points", "requiredValue", "resultType", "role", "salt"),
        *("status", "targetCode", "valueMax", "valueMin", "version"),
    ),
    SCHEMA: (
        "description",
        "email",
        "genre",
        "inLanguage",
        "name",
        "targetFramework",
        "targetName",
        "value",
    ),
}
"""Terms whose value is a word, or a thing that stands inside."""

LINKS = {
    VC: ("credentialSchema", "credentialStatus", "credentialSubject", "evidence", "issuer"),
    STATUS: ("statusListCredential",),
    SECURITY: ("previousProof", "verificationMethod"),
}
"""Terms whose value is the name of a thing, or a thing."""

SETS = ("alignment", "identifier", "result", "rubricCriterionLevel")
"""Terms of Open Badges with several things, in no order."""

TYPED = {
    "validFrom": (f"{VC}validFrom", f"{XSD}dateTime"),
    "validUntil": (f"{VC}validUntil", f"{XSD}dateTime"),
    "created": ("http://purl.org/dc/terms/created", f"{XSD}dateTime"),
    "cryptosuite": (f"{SECURITY}cryptosuite", f"{SECURITY}cryptosuiteString"),
    "proofPurpose": (f"{SECURITY}proofPurpose", "@vocab"),
    "proofValue": (f"{SECURITY}proofValue", f"{SECURITY}multibase"),
    "encodedList": (f"{STATUS}encodedList", f"{SECURITY}multibase"),
    "awardedDate": (f"{BADGE}awardedDate", "xsd:dateTime"),
    "hashed": (f"{BADGE}hashed", f"{XSD_OF_BADGES}boolean"),
    "requiredLevel": (f"{BADGE}requiredLevel", f"{XSD_OF_BADGES}anyURI"),
    "achievedLevel": (f"{BADGE}achievedLevel", f"{XSD_OF_BADGES}anyURI"),
    "targetUrl": (f"{SCHEMA}targetUrl", f"{XSD_OF_BADGES}anyURI"),
    "url": (f"{SCHEMA}url", f"{XSD_OF_BADGES}anyURI"),
    "criteria": (f"{BADGE}Criteria", "@id"),
}
"""Terms whose value has a type of its own."""

PURPOSES = {"assertionMethod": f"{SECURITY}assertionMethod"}


def _map() -> dict[str, Any]:
    found: dict[str, Any] = {"@version": 1.1, "id": "@id", "type": "@type"}
    found |= {name: {"@id": space + name} for name, space in TYPES.items()}
    found |= {name: {"@id": iri} for name, iri in OTHER_TYPES.items()}
    for space, names in WORDS.items():
        found |= {name: {"@id": space + name} for name in names}
    for space, names in LINKS.items():
        found |= {name: {"@id": space + name, "@type": "@id"} for name in names}
    found |= {name: {"@id": BADGE + name, "@container": "@set"} for name in SETS}
    found |= {name: {"@id": iri, "@type": kind} for name, (iri, kind) in TYPED.items()}
    found["tag"] = {"@id": f"{SCHEMA}keywords", "@container": "@set"}
    described = f"{BADGE}resultDescription"
    # One word with two meanings: of an achievement the descriptions, of a result which one.
    found["Achievement"]["@context"] = {
        "resultDescription": {"@id": described, "@container": "@set"}
    }
    found["Result"]["@context"] = {
        "resultDescription": {"@id": described, "@type": f"{XSD_OF_BADGES}anyURI"}
    }
    found["proofPurpose"]["@context"] = PURPOSES
    found["proof"] = {"@id": f"{SECURITY}proof", "@type": "@id", "@container": "@graph"}
    return found


CONTEXTS: dict[str, dict[str, Any]] = {
    CREDENTIALS: {"@context": _map()},
    BADGES: {"@context": {}},
}
"""The address of a context to what stands in its place; the second adds nothing."""
