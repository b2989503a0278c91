"""The one settings file. Everything that differs between machines is read from the environment."""

from datetime import timedelta
from email.utils import parseaddr
from pathlib import Path
from typing import Any

import dj_database_url
from celery.schedules import crontab
from csp.constants import NONE, SELF

from academy.env import env_bool, env_int, env_list, env_secret, env_secrets, env_str, kept_secret

BASE_DIR = Path(__file__).resolve().parent.parent

# --- How this process runs -------------------------------------------------------------------------
DEMO = env_bool("FANLIGHT_DEMO", False)  # one machine, no services, plain http on this computer
DEBUG = env_bool("FANLIGHT_DEBUG", False)
HTTPS = env_bool("FANLIGHT_HTTPS", not DEMO)
DATA_DIR = Path(env_str("FANLIGHT_DATA_DIR", str(BASE_DIR / ".demo")))
SECRET_KEY = kept_secret(DATA_DIR / "secret_key") if DEMO else env_secret("FANLIGHT_SECRET_KEY")
SECRET_KEY_FALLBACKS = env_secrets("FANLIGHT_OLD_SECRETS")  # still read after a change, never used anew
SEALING_SECRETS = [*env_secrets("FANLIGHT_SEALING_SECRETS"), SECRET_KEY, *SECRET_KEY_FALLBACKS]
KEYS_DIR = Path(env_str("FANLIGHT_KEYS_DIR", str(DATA_DIR / "keys")))  # on every machine that issues
KEYS_PASSPHRASE = (
    kept_secret(DATA_DIR / "keys_passphrase") if DEMO else env_secret("FANLIGHT_KEYS_PASSPHRASE")
)
ALLOWED_HOSTS = env_list("FANLIGHT_HOSTS", "127.0.0.1,localhost,[::1]")
SITE_URL = env_str("FANLIGHT_SITE_URL", "http://127.0.0.1:8000").rstrip("/")  # links in letters
# Where this house was before: certificates signed under these addresses still count.
FORMER_SITE_URLS = [url.rstrip("/") for url in env_list("FANLIGHT_FORMER_SITE_URLS", "")]
CSRF_TRUSTED_ORIGINS = env_list("FANLIGHT_TRUSTED_ORIGINS", SITE_URL)
TRUST_PROXY = env_bool("FANLIGHT_TRUST_PROXY", False)
if TRUST_PROXY:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
ALLAUTH_TRUSTED_PROXY_COUNT = int(
    TRUST_PROXY
)  # else the limits on tries would count the proxy, not the person

# --- Rooms -----------------------------------------------------------------------------------------
INSTALLED_APPS = [
    "academy",
    "courses",
    "assessments",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "rest_framework",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.humanize",
    "django.contrib.messages",
    "django.contrib.sessions",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
]
MIDDLEWARE = [
    "csp.middleware.CSPMiddleware",  # first, so that even a refused host name is answered with it
    "academy.middleware.CookielessMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "academy.middleware.SessionLimitMiddleware",
    "academy.middleware.MemberMiddleware",
    "academy.middleware.PrivateCacheMiddleware",
    "academy.middleware.DomainErrorMiddleware",
]
ROOT_URLCONF = "academy.urls"
WSGI_APPLICATION = "academy.wsgi.application"
TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "academy.context.house",
            ],
            "builtins": ["academy.templatetags.ui", "courses.templatetags.lash_map"],
        },
    },
]

# --- Database --------------------------------------------------------------------------------------
DATABASES = {
    "default": dj_database_url.config(default=f"sqlite:///{DATA_DIR / 'fanlight.sqlite3'}", conn_max_age=60)
}
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"] = {
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL;PRAGMA synchronous=NORMAL;",
    }
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# --- Background work: in this process unless a broker is named ---------------------------------------
REDIS_URL = env_str("REDIS_URL", "")
CELERY_BROKER_URL = REDIS_URL or "memory://"
CELERY_TASK_ALWAYS_EAGER = not REDIS_URL
CELERY_TASK_ACKS_LATE = CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_TASK_IGNORE_RESULT = True
CELERY_BEAT_SCHEDULE = {
    "refit-parameters": {"task": "assessments.tasks.refit_all", "schedule": crontab(hour="3", minute="10")},
    "remove-old-certificate-batches": {
        "task": "assessments.tasks.remove_old_certificate_batches",
        "schedule": crontab(hour="3", minute="40"),
    },
    "refresh-needs": {
        "task": "assessments.tasks.refresh_all_needs",
        "schedule": crontab(hour="4", minute="10"),  # after the refit, whose levels it reads
    },
    "offer-places": {"task": "courses.tasks.offer_all_places", "schedule": crontab(hour="5", minute="10")},
    "record-lapses": {
        "task": "assessments.tasks.record_all_lapses",
        "schedule": crontab(hour="2", minute="40"),
    },
}
CELERY_TASK_TIME_LIMIT = 300
CELERY_TASK_SOFT_TIME_LIMIT = 240
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": env_int("FANLIGHT_VISIBILITY_S", 3600, minimum=5, maximum=86_400),
    "unacked_restore_interval": 30,
    "unacked_restore_throttle": 1,
}
CACHES: dict[str, dict[str, Any]] = {
    "default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"},
    # Rendered parts, each under all that it tells; for an hour, so that nothing erased outlives it there.
    "parts": {
        "BACKEND": "django.core.cache.backends.locmem.LocMemCache",
        "LOCATION": "parts",
        "TIMEOUT": 3600,
    },
}
if REDIS_URL:
    for cache in CACHES.values():
        cache |= {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": REDIS_URL}
    CACHES["parts"]["KEY_PREFIX"] = "parts"
elif DEMO:
    CACHES["default"] = {
        "BACKEND": "django.core.cache.backends.filebased.FileBasedCache",
        "LOCATION": str(DATA_DIR / "cache"),
    }
if DEBUG:  # templates are edited while the process runs
    CACHES["parts"] = {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}
PROGRAM_DIRS = [BASE_DIR / name for name in ("academy", "courses", "assessments", "templates")]

# --- Mail ------------------------------------------------------------------------------------------
EMAIL_HOST = env_str("FANLIGHT_SMTP_HOST", "")
EMAIL_PORT = env_int("FANLIGHT_SMTP_PORT", 587, minimum=1, maximum=65_535)
EMAIL_HOST_USER = env_str("FANLIGHT_SMTP_USER", "")
EMAIL_HOST_PASSWORD = env_str("FANLIGHT_SMTP_PASSWORD", "")
EMAIL_USE_TLS = env_bool("FANLIGHT_SMTP_TLS", True)
EMAIL_TIMEOUT = 10
EMAIL_FILE_PATH = DATA_DIR / "mail"
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if EMAIL_HOST else 'filebased'}.EmailBackend"
DEFAULT_FROM_EMAIL = env_str("FANLIGHT_MAIL_FROM", "Fanlight <notes@fanlight.example>")
SECURITY_CONTACT = env_str("FANLIGHT_SECURITY_CONTACT", f"mailto:{parseaddr(DEFAULT_FROM_EMAIL)[1]}")

# --- Sign-in ---------------------------------------------------------------------------------------
AUTH_USER_MODEL = "academy.User"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS: list[dict[str, Any]] = [
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("name", "email")},
    },
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 15},  # the only factor for students, hence the length
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "academy:home"
ACCOUNT_ADAPTER = "academy.adapters.AccountAdapter"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*"]  # signing up is closed; sign-in reads this list too
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_EMAIL_VERIFICATION = "mandatory"
ACCOUNT_EMAIL_VERIFICATION_BY_CODE_ENABLED = True
ACCOUNT_LOGIN_BY_CODE_ENABLED = True
ACCOUNT_EMAIL_UNKNOWN_ACCOUNTS = False
ACCOUNT_EMAIL_NOTIFICATIONS = True
ACCOUNT_LOGOUT_ON_PASSWORD_CHANGE = True
ACCOUNT_REAUTHENTICATION_REQUIRED = True
ACCOUNT_REAUTHENTICATION_TIMEOUT = 300
ACCOUNT_CHANGE_EMAIL = True
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_RATE_LIMITS = {  # besides the library's own
    "invite": "60/h/user",
    "accept_invitation": "20/m/ip",
    "check_certificate": "60/m/ip",
    "check_certificate_file": "12/m/ip",  # reading a file costs more than looking up a code
}
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = not HTTPS
MFA_WEBAUTHN_USER_VERIFICATION = "required"  # a passkey alone signs in, so the device must know its owner
MFA_TOTP_ISSUER = "Fanlight"
MFA_TOTP_TOLERANCE = 1  # one step of clock drift, as RFC 6238 section 5.2 recommends
MFA_ADAPTER = "academy.adapters.MFAAdapter"
STAFF_MFA_REQUIRED = env_bool("FANLIGHT_STAFF_MFA", not DEMO)
INVITATION_LIFETIME = timedelta(days=7)

# --- Sessions: ended after 4 idle hours (a class), and after 14 hours in any case ------------------
SESSION_ENGINE = "django.contrib.sessions.backends.db"
SESSION_COOKIE_AGE = 4 * 3600
SESSION_SAVE_EVERY_REQUEST = False
SESSION_ABSOLUTE_LIMIT_S = 14 * 3600
SESSION_REFRESH_S = 300
SESSION_WARN_S = 300  # before the end, to stay with one press; WCAG 2.2.1 asks for 20 s at least
SESSION_EXPIRE_AT_BROWSER_CLOSE = False
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
SESSION_COOKIE_NAME = "__Host-session" if HTTPS else "fanlight_session"
CSRF_COOKIE_NAME = "__Host-csrf" if HTTPS else "fanlight_csrf"
CSRF_COOKIE_HTTPONLY = True
USERSESSIONS_TRACK_ACTIVITY = True  # at the refresh, by SessionLimitMiddleware: a page view writes nothing
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

# --- Headers ---------------------------------------------------------------------------------------
SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = HTTPS
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [SELF],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:", "blob:"],
        "connect-src": [SELF],
        "worker-src": [SELF],
        "manifest-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
        "require-trusted-types-for": ["'script'"],
    }
}

# --- Files, words and time -------------------------------------------------------------------------
STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
MEDIA_ROOT = DATA_DIR / "files"  # no address leads here: a view that knows who asks hands a file out
FILE_UPLOAD_PERMISSIONS, FILE_UPLOAD_DIRECTORY_PERMISSIONS = 0o600, 0o700
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
        if not DEBUG
        else "django.contrib.staticfiles.storage.StaticFilesStorage"
    },
}
DATA_UPLOAD_MAX_MEMORY_SIZE = 1_048_576
FIXTURE_DIRS = [BASE_DIR / "fixtures"]
LANGUAGE_CODE = "en-gb"
USE_I18N = USE_TZ = True
TIME_ZONE = "UTC"

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": ["rest_framework.authentication.SessionAuthentication"],
    "DEFAULT_PERMISSION_CLASSES": ["academy.api.permissions.IsMember"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["rest_framework.parsers.JSONParser"],
    "EXCEPTION_HANDLER": "academy.api.errors.problem",
    "UNAUTHENTICATED_USER": "django.contrib.auth.models.AnonymousUser",
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "{asctime} {levelname} {name} {message}", "style": "{"}},
    "filters": {"no_secrets": {"()": "academy.logs.HideSecretAddresses"}},
    "handlers": {
        "console": {"class": "logging.StreamHandler", "formatter": "line", "filters": ["no_secrets"]}
    },
    "root": {"handlers": ["console"], "level": env_str("FANLIGHT_LOG_LEVEL", "INFO")},
}
