"""Answers as text for people."""

from lenticel.text.account import account_text, disagreements_text
from lenticel.text.claims import claims_text
from lenticel.text.compare import compare_text
from lenticel.text.doubt import doubt_text
from lenticel.text.following import following_text
from lenticel.text.identify import identify_text
from lenticel.text.key import key_markdown, key_text
from lenticel.text.key_page import key_html
from lenticel.text.lesson import lesson_csv, lesson_html, lesson_markdown
from lenticel.text.overview import coverage_text, terms_text
from lenticel.text.practice import practice_html, practice_markdown, practice_text
from lenticel.text.why import why_text

__all__ = [
    "account_text",
    "claims_text",
    "compare_text",
    "coverage_text",
    "disagreements_text",
    "doubt_text",
    "following_text",
    "identify_text",
    "key_html",
    "key_markdown",
    "key_text",
    "lesson_csv",
    "lesson_html",
    "lesson_markdown",
    "practice_html",
    "practice_markdown",
    "practice_text",
    "terms_text",
    "why_text",
]
